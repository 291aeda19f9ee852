"""Words by which people are pointed to without their names: titles, kin, offices, trades. From memory (common English)."""

from __future__ import annotations

from archive.rules.spoken import word_set

# Before a family name. Kin that are titles as well ("Uncle Ted") are in KIN_TITLES.
TITLES = word_set(
    "mr mrs miss ms mx dr doctor prof professor sir lady lord rev reverend pastor father canon captain cap'n skipper constable pc sergeant "
    "inspector superintendent detective councillor alderman mayor major colonel lieutenant nurse matron mister missus missis master "
    "bosun admiral judge vicar rabbi imam")
KIN_TITLES = word_set("uncle aunt auntie aunty granny gran grandad grandpa grandma nan nanny nana cousin brother sister grandfather grandmother")
BEFORE_TITLE = word_set("old young poor late dear little big")  # part of how somebody is called: "old Mrs …"

KIN = word_set(
    "mother father mum mam dad mummy daddy wife husband son daughter sons daughters brother sister brothers sisters cousin cousins uncle aunt auntie nephew "
    "niece grandmother grandfather granny gran grandma grandad grandpa grandson granddaughter widow widower fiance fiancee sweetheart "
    "girlfriend boyfriend stepmother stepfather stepson stepdaughter godmother godfather twin baby child children boy girl lad lass "
    "mother-in-law father-in-law brother-in-law sister-in-law son-in-law daughter-in-law lodger landlady landlord neighbour "
    "family parents people folks")
# Somebody's own kin and company, named with them: "my friend Ted". The ones above and these.
COMPANY = KIN | word_set("friend mate pal chum boss foreman foreman's teacher workmate partner missus missis old best")
# After "his" and "her" where somebody was just named; narrower, for these are often said of nobody in particular.
CLOSE_KIN = word_set(
    "mother father wife husband son daughter brother sister cousin uncle aunt nephew niece widow grandmother grandfather twin "
    "sweetheart girlfriend boyfriend fiance fiancee grandson granddaughter stepmother stepfather")

# Offices that one person at a time holds in a town or a house: "the manager" tells who.
OFFICES = word_set(
    "mayor mayoress magistrate manager manageress vicar headmaster headmistress harbourmaster postmaster postmistress coroner matron "
    "stationmaster midwife undertaker sexton verger schoolmaster schoolmistress superintendent bishop ferrymaster lockkeeper choirmaster "
    "gravedigger lamplighter")
# Offices and trades that many may hold: they tell who with "of the …", beside a name, or as whose kin somebody is.
TRADES = OFFICES | word_set(
    "secretary treasurer chairman chairwoman chair president foreman forewoman captain skipper mate bosun engineer stoker deckhand coxswain cook "
    "constable policeman policewoman sergeant inspector doctor nurse teacher priest minister pastor landlord landlady publican baker butcher grocer "
    "fishmonger greengrocer blacksmith carpenter cobbler shoemaker tailor dressmaker barber hairdresser milkman postman coalman dustman "
    "lodger caretaker cleaner clerk cashier typist librarian organist conductor bandmaster driver fireman watchman watchmaker chemist "
    "pharmacist solicitor lawyer councillor alderman steward shopkeeper innkeeper signalman gatekeeper ferryman boatman boatbuilder "
    "netmaker ropemaker fisherman miller joiner plumber painter glazier electrician farmer gamekeeper gardener cook housekeeper maid "
    "butler chauffeur master keeper reporter editor photographer dentist optician vet bookmaker bookie banker owner director captain's informer")
TRADE_ENDS = ("man", "woman", "master", "mistress", "keeper", "maker", "wright", "monger", "smith")

PERSONS = word_set("woman man girl boy lad lass lady gentleman child chap fellow bloke person widow widower one survivor")
SINGLING = word_set(
    "only sole first last oldest youngest eldest tallest shortest smallest biggest richest poorest fattest strongest prettiest youngest "
    "cleverest other")
HOUSE_VERBS = word_set("kept ran owned managed had led headed runs keeps owns manages drove rang taught")
HOUSES = word_set(
    "shop floor pub inn tavern bakery bakehouse butcher's baker's grocer's chemist's dairy chapel school post-office office café cafe stall hotel "
    "laundry forge smithy yard works mill kiosk library hall lodging-house boarding-house club choir band bar canteen kitchen store stores "
    "farm garage station surgery class infants bell ferry van round barber's chippy newsagent's fishmonger's greengrocer's tobacconist's draper's ironmonger's cobbler's tailor's florist's")
STREET_ENDS = word_set(
    "row street lane road square steps walk view hill wharf quay slip terrace avenue close court place gardens buildings cottages "
    "crescent drive way parade mews green alley passage yard")

# What people do, as it is told: after these a name or an office is complete ("Grimshaw said …", "of the union knew").
DONE = word_set(
    "said says told used lived died worked came went got had has was is did does knew thought wanted asked gave took kept ran sat stood "
    "stayed left married never always would could couldn't wouldn't didn't wasn't wept laughed shouted"
)
