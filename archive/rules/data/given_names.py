"""Usual short forms of English given names, from memory: what somebody on record may be called without its being on record."""

from __future__ import annotations

from archive.rules.spoken import word_set

_LISTED = """
abigail: abby abbie gail
agnes: aggie nessie nessa
albert: al bert bertie albie
alexander: alec alex sandy sander xander
alexandra: alex sandra lexie sandy
alfred: alf alfie fred
alice: ally ali
alison: ally ali allie
andrew: andy drew
angela: angie ange
ann: annie nan nancy
anne: annie nan nancy
anna: annie
anthony: tony ant
antonia: toni
archibald: archie arch
arnold: arnie
arthur: art artie
augustus: gus gussie
barbara: barb babs barbie
bartholomew: bart barty
beatrice: bea trixie beattie
benjamin: ben benny benjie
bernard: bernie bern
bertha: bertie
bridget: bridie biddy
carol: caz carrie
caroline: carrie caro carol lina
catherine: cathy kate katie kitty cath cat
cecil: cec
cecily: cis sissy
charles: charlie chas chuck chaz
charlotte: charlie lottie lotty
christina: chris chrissie tina
christine: chris chrissie tina
christopher: chris kit topher
clara: clarrie
clarence: clarrie
clifford: cliff
colin: col
constance: connie
cornelius: corny con
cuthbert: bert cuddy
cynthia: cindy
cyril: cy
daniel: dan danny
david: dave davy davie dai
deborah: deb debbie debs
denis: den denny
dennis: den denny
derek: del
desmond: des
donald: don donnie
doreen: dor reenie
doris: dor dolly
dorothy: dot dottie dolly dora dotty
douglas: doug dougie
duncan: dunc
edith: edie ede
edmund: ed ned ted
edna: eddie
edward: ed eddie ned ted teddy
edwin: ed eddie
eileen: eily
eleanor: nell nellie ellie nora
elizabeth: liz lizzie beth betty bess bessie betsy eliza libby lisbeth lil
ellen: nell nellie
elsie: else
emily: em emmy
emma: em emmy
enid: enie
ernest: ern ernie
esther: essie hetty
ethel: eth
eugene: gene
evelyn: evie eve
florence: flo florrie flossie
frances: fran frannie franny
francis: frank frankie fran
frederick: fred freddie freddy
gabriel: gabe
geoffrey: geoff
george: georgie
gerald: gerry
gerard: gerry
gertrude: gert gertie trudy
gilbert: gil bert
gladys: glad
gordon: gordy
grace: gracie
graham: gray
gregory: greg
gwendoline: gwen gwennie
hannah: hanna nan
harold: harry hal
harriet: hattie hetty
helen: nell nellie lena
henrietta: hetty etta
henry: harry hal hank
herbert: herb bert bertie
hilda: hildy
horace: horry
howard: howie
hubert: bert
hugh: hughie
humphrey: humph
ian: iain
ines: nessie
irena: rena ira irka
irene: rene reenie
isabel: isa bel izzy bella tibby
isabella: bella izzy bell
isaac: ike zack
ivor: ive
jacob: jake
jacqueline: jackie
james: jim jimmy jem jamie jas
jane: jenny janey janie
janet: jan jinny
jean: jeannie
jennifer: jen jenny
jeremiah: jerry
jeremy: jerry jez
jessica: jess jessie
joan: joanie
joanna: jo
john: jack johnny jackie jock
jonathan: jon jonny
joseph: joe joey jo
josephine: jo josie
joshua: josh
joyce: joy
judith: judy jude
julia: jule jules
julian: jules
katherine: kate katie kathy kitty kath kit
kathleen: kath kathy katie
kenneth: ken kenny
lancelot: lance
laura: lori laurie
laurence: larry laurie
lawrence: larry laurie
leonard: len lenny leo
leopold: leo
leslie: les
lewis: lew
lillian: lil lily lilly
louis: lou louie
louisa: lou lulu
louise: lou lulu
lucy: lu luce
mabel: may mab
madeleine: maddie
magdalena: lena
margaret: maggie meg peg peggy madge marge margie daisy greta rita mags
maria: ria mia
marek: mareczek
marian: mary
marilyn: mari
marjorie: marge margie madge
martha: patty mattie marty
martin: marty mart
mary: may molly polly moll maimie
matilda: tilly matty mattie
matthew: matt matty
maud: maudie
maurice: maury mo
maxwell: max
michael: mick mike micky mikey
michelle: shell
mildred: millie milly
miriam: mim mimi
montague: monty
muriel: mu
nathaniel: nat nate
nathan: nat nate
neville: nev
nicholas: nick nicky nico
nicola: nicky nic
norman: norm
olive: ollie
oliver: ollie noll
oswald: oz ozzie
owen: owie
pamela: pam
patricia: pat patsy trish tricia paddy
patrick: pat paddy rick
paul: pauly
pauline: paul polly
penelope: penny pen
peter: pete petey
philip: phil pip
philippa: pip pippa
phyllis: phyl phil
priscilla: cilla
prudence: prue
rachel: rach rae
ralph: ralphie
raymond: ray
rebecca: becky becca
reginald: reg reggie
richard: dick dickie rick ricky rich richie
robert: bob bobby rob robbie bert
robin: rob
roderick: rod roddy
rodney: rod
roger: rodge
roland: roly
ronald: ron ronnie
rosamund: ros rose
rose: rosie
rosemary: rose rosie romy
rosalind: ros rosie
rowland: rowley
rudolf: rudy
rupert: ru
russell: russ
ruth: ruthie
samantha: sam sammy
samuel: sam sammy
sarah: sally sal sadie
sebastian: seb
sidney: sid
silas: si
simon: si sim
sophia: sophie
stanley: stan
stella: stell
stephen: steve stevie
steven: steve stevie
stewart: stew stu
stuart: stu
susan: sue susie suzy
susannah: sue susie
sybil: syb
sylvia: syl sylvie
terence: terry tel
theodore: theo ted teddy
theresa: tess terry tessa
thomas: tom tommy thom
thora: tory
timothy: tim timmy
valerie: val
vera: vee
veronica: ronnie vera
victor: vic
victoria: vic vicky
vincent: vince vin
viola: vi
violet: vi
virginia: ginny
vivian: viv
walter: walt wally wat
wilfred: wilf wilfie fred
wilhelmina: mina minnie billie
william: bill billy will willie liam wills
winifred: win winnie freda
winston: winnie
zachary: zach zack
"""

SHORT_FORMS: dict[str, tuple[str, ...]] = {
    line.partition(":")[0]: tuple(line.partition(":")[2].split()) for line in _LISTED.strip().splitlines()
}

# Given names that need no capital company to be taken for a name where one opens a sentence ("Maud, would you …").
_ALSO = (
    "maud dot carol ines vera elin jack tom joe arthur bell agnes mavis beryl hazel ivy iris joy june may ada ida edna elsie "
    "elin sven lars olga ivan igor boris pavel jan karel tomas marta eva nina nora lena lina mona sheila maureen noreen brenda "
    "marlene shirley gillian hilary heather fiona moira morag catriona malcolm hamish alastair angus callum ewan gavin keith "
    "kevin brian barry trevor clive cedric clement denzil eric ernie gareth glyn huw idris ifor rhys sean seamus liam niall "
    "brendan declan ahmed ali mohammed hassan fatima ayesha amina ravi anil sunita priya kwame kofi ama abena winston delroy"
)

GIVEN_NAMES: frozenset[str] = frozenset(SHORT_FORMS) | {s for forms in SHORT_FORMS.values() for s in forms} | word_set(_ALSO)

# Given names and short forms that are words as well: where one opens a sentence it is taken for the word.
ALSO_WORDS: frozenset[str] = word_set(
    "will art al ant may bill rob rose sue pat penny ray dot max gene joy glad nan peg cat carol sandy daisy lily hazel ivy "
    "june grace olive violet ginger con rich frank mark jack dick hank lance miles guy pip pen win stew bell patty jean jo "
    "gray rod norm herb cliff don nick drew chuck patsy else eve tory corny even dolly dan den deb tel si mo ally shell "
    "harry ted tom ali sal ama kit bob barb pam angie mina mia rae vin faith hope charity patience prudence dawn "
    "april august christian summer victor constance earnest ernest mike jimmy robin heather iris angel col us gil hal lil vi "
    "syb ru dunc glyn ron bart")
