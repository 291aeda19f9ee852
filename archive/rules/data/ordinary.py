"""Ordinary English words that no name is guessed from: what often opens a sentence, and capitals that name nobody. From memory."""

from __future__ import annotations

from archive.rules.spoken import word_set

_OFTEN = """
a about above across after afterwards again against ago ah all almost along already also although always am among an and
another any anybody anyone anything anyway apart are around as ask asked at away back bad be because been before began begin behind
being believe below beside best better between big black blood blue boat boats body book both bottom boy boys bread bridge bring
brother brothers brought brown but by called came can cannot car cars catch certainly chain chapel child children church city
clean clear clock close cold colder come comes coming council couldn't cousin crew cut dad dark daughter day days dead dear did didn't different dinner
do does doesn't dog doing done don't door down drive each early easy eat eight eighteen eighty eleven else end england english enough er erm
even evening ever every everybody everyone everything eyes face fact family far fast father fear feel feet fell few fifteen fifty
find fine fire first fish five flood floor folk follow food foot for forget forty found four fourteen friday friend friends from front full
funny gave get gets getting girl girls give go god goes going gone good got grandad grandfather grandma grandmother gran granny great
green grey group had half hall hand hands happy hard hardly harsh has hat have having he head hear heard heavy held hello help her here hers herself
high hill hobby hobbies him himself his hold home hope hot house houses how however hundred hundreds husband i ice if ill in inside instead into is it
its itself job just keep kept kids kind kitchen knew know lad lady land large last late later laugh least leave left less let letter
life light like line links listen little live lived living long look looked looking lost lot lots loud love low luck made mainly make makes mark marks
making mam man many maybe me mean meant measure meet men middle mill might mind mine minute miss mm money months moon more morning
most mother mothers mouth move moved much mum mummy must my myself name names near nearly neither net never nets new next nice night nine nineteen ninety no nobody
noise none nor not nothing now number of off office often oh oil okay old on once one ones only onto open opposite or other others our ours
out outside over own paid paper parents part pass passed past pay people perhaps person photographs piece place plain plus police poor
potatoes present pretty probably proud put question quick quiet quietly quite rain ran rather reading ready real really red remember rest right river road room
rooms round rope row run said same sat saw say says school sea second see seen seven seventeen seventy several shall she ship shop should shut
side silence since sing sir sister sisters sit six sixteen sixty sleep slow small so soap sold some somebody someone something sometimes son
song soon sorry sort sound south speak spring stand standing start started stay steps stick sticks still stone stop stopped stood story straight strange street
strike strong such suddenly suppose sure sweet table take taken talk tea teacher tell ten than thank thanks that that's the their them then there
there's these they thing things think third thirteen thirty this those though thought thousand three through ticket tie till time times tin to
today together told tomorrow too took top towards town travel tried true try turn twelve twenty two uncle under understand unless until
up upon us use used usually very voice wait walk walked wall want wanted war was wasn't watch water way we weather week weeks well went were west
wet what whatever when whenever where wherever whether which while white who whoever whole whom whose why wide wife will wind window winter
wireless with within without woman women wonder won't wood word words work worked workers working world worse worst would wouldn't write
welcome exhibition interview recording wrong yard year years yes yesterday yet you young your yours yourself youth
"""

# Words with a capital of their own that name no person: the calendar, feasts, tongues, peoples, churches, forms of address.
_CAPITALS = """
january february march april may june july august september october november december
monday tuesday wednesday thursday friday saturday sunday mondays tuesdays wednesdays thursdays fridays saturdays sundays
christmas easter whitsun whit pentecost lent advent michaelmas candlemas halloween boxing new year's eve shrove pancake ash
god lord jesus christ bible catholic catholics protestant protestants methodist methodists baptist baptists quaker quakers jewish jew jews
muslim muslims islam christian christians anglican hindu sikh orthodox
english england british britain scottish scotland scots welsh wales irish ireland northern french france german germany germans italian italy
polish poland poles russian russia lithuanian lithuania latvian latvia estonian estonia ukrainian ukraine czech slovak hungarian hungary
spanish spain portuguese portugal dutch holland danish denmark norwegian norway swedish sweden greek greece turkish turkey chinese china
indian india pakistani pakistan jamaican jamaica african africa american america americans europe european asia asian latin yiddish
mum mummy mam mammy dad daddy da ma pa gran granny nan nana nanna grandma grandad grandpa grandfather grandmother mother father auntie uncle sir madam
ok okay tv radio union labour tory tories liberal conservative parliament government council company
i i'm i'd i'll i've mr mrs miss ms dr saint st
"""

ORDINARY: frozenset[str] = word_set(_OFTEN) | word_set(_CAPITALS)
