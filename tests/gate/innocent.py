"""Words and phrases that resemble the demo's names and name nobody. Written by hand, in SCENARIO's town; common practice, no source."""

from __future__ import annotations

# Where "Marsh", "Lund", "Bell", "Fenn" … are noted `as_name` (also a word or a place), these stand in lower case or inside other words.
AS_NAME_WORDS = """
the marsh
a marsh behind Lower Quay
marshes
the marshes at dawn
salt-marsh
salt marsh
marshland
marshy ground
marsh-marigold
marsh gas
the marsh's edge
over the marsh and home
marshal
marshals
the marshalling yard
marshalled in fours
marshmallow
a bell
the bell
bells
the bell rang twice
a bell's note
the ferry bell
bellows
bell-ringer
bellow
belly
bell-buoy
diving bell
a bell jar
the bell-rope
a lund of trees
lunds of grass
land
the land
lands
landed
landing
the landing stage
landslide
lunch
lunches
lunchtime
packed lunch
a plunder
blunder
lunge
a fen
fens
the fenn reeds
fenland
fence
fences
fender
fenders
fend for yourself
fennel
ash
ashes
ash by the gate
ashen
ashore
an ashby of nettles
a reeve
the reeve of the ferry
reeves
he reeved the rope
reeve the chain
a volk
pask eggs
pasked
a dot
dots
dotted line
dotty
on the dot
a tandy
a quill
quills
quilled
the brine
brine
briny
brined herring
a tarrow
to harrow
a wren
wrens
wren's nest
a dane
danes
great dane
a holm oak
holms
in the holm
""".strip().splitlines()

ORDINARY = """
Reeves of the old manor were not meant
Landing Stage
Lunch at the Mission Hall
The Marshal Islands
Marshall
Marshalsea
Lundy
Lundgren
Lundquist
Blund
Helund
Bellamy
Bellows and Sons
Isabel
Annabel
Belling
Fennimore
Fenwick
Ashbys
Ashbury
Ashburn
Ashley
Tandys
Tandem
Brandy
Dotty
Dorothy
Dots and dashes
Lenape
Lenard
Lenora
Alena
Helena
Magdalena
Milena
Selena
lenient
Lennart
Valencia
Agnesia
agnostic
Magnes
Agness
Coylean
coil
coiled
coils of rope
coy
coyly
Coyne
McCoyd
decoy
decoys
alcoylation
Petersfield
Peterkin
petered out
saltpetre
repeter
Samuelson
Samuelle
Josephine
Josephs coat of many colours
Bernards dog
Bernardine
Irenaeus
serenade
serenading
Maudlin
Maudie
Mauds
artillery
celery
gallery
Ellerby
Colins
Colinette
collins glass
Inessa
Minesweeper
pines
Pasks
Pascal
Paskin
Volks
Volkmar
evolk
Reevesby
reeving
unreeved
sober
sobbing
Caldera
Calderdale
scalder
Ruthless
truth
Ruthenia
Mareks
remarked
marekite
the chain ferry Marigold
Marigolds in a jar
the River Sallow
sallow skin
shallow water
the Shallow
Gull Steps
steps
Net Row
network
Netrow
Ropewalk
the Rope Walk
Saltpan Square
salt pans
Beacon Hill
bacon
the Beacon
Cannery Wharf
canny
cannery
Lower Quay
quays
key
keys of the hall
Foundry Yard
founder
foundling
Mission Hall
permission
Harbour View
Coldharbour
the landing in the fog
May came late
she may come
in march they marched
will you
the will was read
april showers
rose hips
the rose window
a rose by the door
jack it up
jacks and trestles
mark the place
marked
a pat of butter
pattern
sue the council
sued
ray of light
rays
frank words
frankly
bill of lading
bills
rob the till
robbed
art class
peg out the washing
pegs
dawn broke
ivy on the wall
holly and ivy
hope
faith and hope
grace before meals
miles of rope
pearl button
ruby ring
daisy chain
""".strip().splitlines()
