"""Where the named progressions stand in the demo library, as the charts were read by hand.

For each progression: the tunes that hold it, by the stem of the chart, with places as section and first to last bar (a
section holds for the places behind it; none where the chart has none); then, behind a bar line, near misses that do not
hold it. ``=`` behind the name says that no other tune of the library holds it; without it, those listed are some of
many. Not every place is listed.
"""

from __future__ import annotations

import re
from typing import NamedTuple

TABLE = """
authentic cadence:
    red-river-valley Verse 1 4-4; haywain-reel A 7-8, B 15-16; ode-to-joy A2 8-8; clementine Verse 7-8;
    | organ-loft-drone sakura old-joe-clark umber-hour
4 5 1:
    haywain-reel B 15-16; cadence-drill-in-b-flat Perfect 2-4; red-river-valley Verse 1 3-4; pram-wheels Verse 7-8;
    | simple-gifts clementine silent-night greensleeves
plagal cadence:
    nearer-my-god-to-thee Amen 17-18; cadence-drill-in-b-flat Plagal 7-8; candle-in-the-vestry Amen 21-22;
    reading-lamp-reggae Skank 16-18;
    | red-river-valley amazing-grace haywain-reel kettle-on-the-sill
minor plagal cadence: =
    kettle-on-the-sill A 7-8; organ-loft-drone Close 18-19; small-rain Refrain 11-12;
    turnstile-at-the-baths Outro 18-19;
    | home-on-the-range aura-lee
half cadence:
    cadence-drill-in-b-flat Half 12-12; deck-the-hall; copper-weathervane Chorus 12-12;
    | haywain-reel clementine sakura
deceptive cadence: =
    cadence-drill-in-b-flat Deceptive 15-16; pump-court 13-14; away-in-a-manger 13-14;
    buttons-on-the-bandstand A 8-12; candle-in-the-vestry Verse 4-5; lame-carousel Waltz 4-5;
    bolero-for-a-broken-barometer A 8-9;
    | copper-weathervane paper-boat-parade ode-to-joy one-glass-slipper
backdoor cadence: =
    marmalade-afternoon B 14-16; cobalt-umbrella B 10-11; teacups-in-transit A 10-11; long-way-to-dunmoor C 18-19;
    wick-and-glass Verse 8-9, Tag 17-19;
    | three-staircases kettle-on-the-sill letters-in-the-piano-bench lamplighters-encore
Phrygian half cadence: =
    lament-for-a-lost-glove Ground 7-8; ground-in-blue-ink Ground 7-8; wayfaring-stranger B 11-12;
    | coventry-carol la-folia
Picardy ending: =
    coventry-carol Verse 1 8-8; la-folia Theme 17-17; lament-for-a-lost-glove Close 12-12;
    passamezzo-antico Ground 9-9; romanesca-ground Division 16-16;
    | we-three-kings clay-pigeon-tango greensleeves
cadential six-four:
    silent-night Verse 1 6-6; home-on-the-range Verse 13-15; nearer-my-god-to-thee Verse 7-8;
    go-down-moses Refrain 7-9;
    | the-water-is-wide twinkle-twinkle
four over five cadence: =
    slow-tide-at-penmarrow Verse 4-6; open-the-side-door Verse 4-6; candle-in-the-vestry Chorus 10-11;
    quiet-as-snow-on-slate Chorus 15-16; pewter-morning Verse 4-5; the-water-is-wide 12-13;
    harbour-fog-bell Dominant bell 13-14; organ-loft-drone Pedal on five 13-14;
    | wick-and-glass kite-above-the-reservoir
double plagal cadence: =
    cartwheel-green Riff 2-4, Out 14-16; ferry-to-the-far-bank Outro 14-16; old-joe-clark B 14-15;
    copper-weathervane Intro 3-5; lanterns-on-quay-street Close 19-21;
    girder-street-saturday Verse 3-5; two-coats-of-paint Outro 15-17, 19-21;
    scaffold-poles Chorus 18-20, 22-24;
    | scarborough-fair drunken-sailor points-failure
plagal chain: =
    girder-street-saturday Verse 2-5; scaffold-poles Chorus 17-20, 21-24;
    | cartwheel-green copper-weathervane two-coats-of-paint
Neapolitan cadence: =
    bolero-for-a-broken-barometer A 5-6; one-glass-slipper A 7-8, B 13-14;
    | fandango-of-the-orange-court sakura moth-at-the-mirror the-salt-road-east
b6 b7 1 cadence: =
    girder-street-saturday Chorus 9-11, 13-15; observatory-after-closing B 10-12, 14-16;
    | chip-shop-clavinet when-johnny-comes-marching-home points-failure
suspended dominant:
    last-bus-from-aldery-cross Verse 8-8; londonderry-air A 7-8; twelve-chairs-one-table Verse 4-4;
    the-water-is-wide 8-8;
    | number-nine-night-bus wick-and-glass
ii–V–I:
    twelve-doors-in-a-corridor 1-3, 5-7; marmalade-afternoon A 1-3; umber-hour A 5-7; nobody-knows Chorus 4-5;
    | minor-cadence-ladder haywain-reel
long ii–V–I:
    twelve-doors-in-a-corridor 1-3; cobalt-umbrella A 1-3; beautiful-dreamer 2-4; seven-grey-herons A 2-4;
    | teacups-in-transit biscuit-tin-bounce pump-court
short ii–V–I:
    nobody-knows Chorus 4-5; sunday-best-shout Chorus 7-8; pump-court 15-16; three-staircases B 15-16;
    | twelve-doors-in-a-corridor cobalt-umbrella
minor ii–V–i: =
    minor-cadence-ladder Ground floor 1-3, Attic 13-15; boiler-variations A 2-3; wade-in-the-water Chorus 7-8;
    seven-grey-herons A 6-8; curtain-call-at-the-corn-exchange A 6-7; motherless-child Verse 1 4-4;
    joshua Chorus 7-8; spy-in-the-pantry Theme 11-17; five-steps-to-the-boathouse Theme 7-9;
    crow-on-the-chimney 12-1; dark-eyes A 13-15; small-rain Refrain 9-11;
    | long-way-to-dunmoor lame-carousel moth-at-the-mirror bolero-for-a-broken-barometer
minor ii–V–i on 6: =
    long-way-to-dunmoor A 6-8; bossa-for-a-rainy-awning A 6-8; teacups-in-transit B 13-15;
    | stationmasters-rag minor-cadence-ladder
long minor ii–V–i: =
    minor-cadence-ladder Ground floor 1-3; seven-grey-herons A 6-8; dark-eyes A 13-15;
    | wade-in-the-water crow-on-the-chimney
short minor ii–V–i: =
    boiler-variations A 2-3; curtain-call-at-the-corn-exchange A 6-7; wade-in-the-water Chorus 7-8;
    joshua Chorus 7-8; crow-on-the-chimney 12-1; spy-in-the-pantry Theme 11-12;
    | minor-cadence-ladder five-steps-to-the-boathouse
ii–V–I with the tritone: =
    marmalade-afternoon A 5-7; cobalt-umbrella A 5-7; umber-hour B 13-15; teacups-in-transit B 17-19;
    the-triangular-house B 21-24; curtain-call-at-the-corn-exchange B 12-15;
    | letters-in-the-piano-bench night-porter-blues
minor ii–V–i with the tritone: =
    moth-at-the-mirror A 3-5, B 13-15; bolero-for-a-broken-barometer B 13-15;
    | curtain-call-at-the-corn-exchange umber-hour lamplighters-encore
two-five into four: =
    pewter-morning Verse 6-8; cobalt-umbrella B 12-13; night-porter-blues Head 4-5; sideboard-blues 4-5;
    marmalade-afternoon B 10-14; three-staircases A 5-8; number-nine-night-bus Turn 12-13;
    curtain-call-at-the-corn-exchange B 11-12;
    lamplighters-encore B 9-12;
    | copper-weathervane amazing-grace milk-churn-junction
two-five into two:
    ladder-up-ladder-down A1 7-8; marmalade-afternoon A 8-1; quiet-as-snow-on-slate Chorus 11-14;
    letters-in-the-piano-bench A 7-9;
    | twelve-chairs-one-table seven-grey-herons
five of five:
    aura-lee A 2-3; home-on-the-range Verse 6-7; ode-to-joy B 12-12; blessed-assurance Verse 1 2-2;
    | kite-above-the-reservoir haywain-reel
five of six: =
    ode-to-joy B 11-12; stationmasters-rag B 17-18; parlour-stride B 9-12; open-the-side-door Chorus 11-12;
    bossa-for-a-rainy-awning A 7-8; long-way-to-dunmoor A 7-8; teacups-in-transit B 14-15;
    | aura-lee kettle-on-the-sill
five of two:
    twelve-chairs-one-table Chorus 11-12; sunday-best-shout Chorus 6-7; abide-with-me 11-12;
    blessed-assurance Refrain 7-8;
    | parlour-stride aura-lee
five of four:
    amazing-grace Verse 1 1-1; home-on-the-range Verse 2-3; red-river-valley Verse 1 3-3; londonderry-air A 2-3;
    | eight-pennies-blues tin-roof-tuesday one-glass-slipper
1 6 2 5 turnaround:
    all-through-the-night A 1-2; auld-lang-syne Verse 1-2; biscuit-tin-bounce A 1-2; teacups-in-transit Intro 1-2;
    | soda-straw-serenade haywain-reel
3 6 2 5 turnaround:
    teacups-in-transit Intro 3-4; ladder-up-ladder-down A1 7-8; pump-court 4-7; number-nine-night-bus Verse 7-10;
    | all-through-the-night auld-lang-syne
6 2 5 1:
    pump-court 5-9; swing-low Chorus 3-5; biscuit-tin-bounce A 1-3; stationmasters-rag A 2-5;
    | haywain-reel
diminished turnaround: =
    teacups-in-transit A 5-6; parlour-stride A 1-2;
    | auld-lang-syne twinkle-twinkle
turnaround with tritone substitutes: =
    lamplighters-encore A 7-8; moth-at-the-mirror A 5-8;
    | night-porter-blues the-triangular-house three-staircases
minor turnaround: =
    joshua Chorus 4-7; wade-in-the-water Chorus 4-7; motherless-child Verse 1 3-4;
    curtain-call-at-the-corn-exchange A 1-6;
    | crow-on-the-chimney gaslit-tram
ragtime progression: =
    stationmasters-rag A 2-5; parlour-stride A 3-5; clay-pigeon-tango B 29-31; biscuit-tin-bounce B 11-1;
    ladder-up-ladder-down B 19-9;
    | aura-lee home-on-the-range
gospel turnaround: =
    twelve-chairs-one-table Chorus 9-12, Chorus 13-16; sunday-best-shout Chorus 2-7; parlour-stride A 5-8;
    amazing-grace-gospel-waltz Verse 10-14; stationmasters-rag A 10-15; londonderry-air B 25-30;
    | old-time-religion wick-and-glass
gospel lift: =
    twelve-chairs-one-table Chorus 10-11; sunday-best-shout Chorus 3-5, Vamp 14-15; parlour-stride A 6-7;
    amazing-grace-gospel-waltz Verse 11-12; beautiful-dreamer 17-17; stationmasters-rag A 11-13;
    blessed-assurance Refrain 7-7; londonderry-air B 26-27; old-time-religion Verse 14-15;
    | night-porter-blues wick-and-glass
rising passing diminished: =
    teacups-in-transit A 5-6; parlour-stride A 1-2; auld-lang-syne Chorus 11-12;
    | twinkle-twinkle
falling passing diminished: =
    half-past-the-shaving-mug Verse 7-8, Refrain 11-12; lamplighters-encore A 2-3;
    | twinkle-twinkle mrs-quills-piano-roll umber-hour
common-tone diminished: =
    half-past-the-shaving-mug Verse 1-3, Refrain 13-15; mrs-quills-piano-roll B 9-11;
    | parlour-stride teacups-in-transit
twelve-bar blues: =
    coal-scuttle-shuffle 1-12; frankie-and-johnny 1-12; ash-bucket-blues Chorus 1-12; tin-roof-tuesday Chorus 1-12;
    parish-hall-sixteen 5-16; sixteen-fence-posts 5-16;
    | slow-barge-blues crow-on-the-chimney eight-pennies-blues night-porter-blues
quick-change blues: =
    coal-scuttle-shuffle 1-12; ash-bucket-blues Chorus 1-12; tin-roof-tuesday Chorus 1-12;
    | frankie-and-johnny slow-barge-blues
minor blues: =
    crow-on-the-chimney 1-12; wet-slate-minor 1-12;
    | gaslit-tram frankie-and-johnny
jazz blues: =
    night-porter-blues Head 1-12; sideboard-blues 1-12;
    | tin-roof-tuesday frankie-and-johnny
eight-bar blues: =
    eight-pennies-blues 1-8; back-porch-ledger 1-8;
    | careless-love home-on-the-range gaslit-tram
sixteen-bar blues: =
    parish-hall-sixteen 1-16; sixteen-fence-posts 1-16;
    | careless-love frankie-and-johnny
blues cadence:
    tin-roof-tuesday Chorus 9-11; coal-scuttle-shuffle 9-11; parish-hall-sixteen 13-15; slow-barge-blues 17-21;
    | frankie-and-johnny night-porter-blues
rhythm changes A: =
    biscuit-tin-bounce A 1-6; ladder-up-ladder-down A1 1-6; parlour-stride A 1-6; stationmasters-rag A 1-12;
    | teacups-in-transit all-through-the-night
rhythm changes bridge: =
    biscuit-tin-bounce B 9-16; ladder-up-ladder-down B 17-24;
    | stationmasters-rag aura-lee
circle of fifths: =
    pump-court 1-9; clockmakers-round Round 1-9; bossa-for-a-rainy-awning A 4-4;
    | long-way-to-dunmoor teacups-in-transit
circle of fifths in minor: =
    seven-grey-herons A 1-8; bossa-for-a-rainy-awning A 1-8; long-way-to-dunmoor A 1-8;
    five-steps-to-the-boathouse Theme 5-9; small-rain Verse 4-11; clockmakers-round Round 5-13;
    | boiler-variations fandango-of-the-orange-court moth-at-the-mirror
part of the circle of fifths:
    pump-court 1-10, 14-16; boiler-variations B 9-12; fandango-of-the-orange-court Song 5-9;
    stationmasters-rag A 2-5;
    | haywain-reel copper-weathervane minor-cadence-ladder
minor line cliché: =
    spy-in-the-pantry Riff 1-2; curtain-call-at-the-corn-exchange A 1-4; buttons-on-the-bandstand B 9-12;
    parlour-stride B 11-12;
    | seven-grey-herons crow-on-the-chimney
major line cliché: =
    buttons-on-the-bandstand A 1-4; letters-in-the-piano-bench A 1-4, B 17-20;
    | londonderry-air twinkle-twinkle
rising line cliché: =
    clay-pigeon-tango B 17-19;
    mrs-quills-piano-roll A 1-3;
    | kettle-on-the-sill buttons-on-the-bandstand
lament bass: =
    lament-for-a-lost-glove Ground 1-4; ground-in-blue-ink Ground 1-4; fandango-of-the-orange-court Falling 1-4;
    thimble-and-thread Chorus 9-12; motherless-child Verse 1 1-1; when-johnny-comes-marching-home 13-14;
    ninety-steps-down Bridge 9-12;
    | small-rain wayfaring-stranger
chromatic lament bass: =
    frost-on-the-signal-box Verse 1-5; thimble-and-thread Verse 1-5; small-rain Verse 1-3;
    | go-down-moses lament-for-a-lost-glove
chromatic walk-down in minor: =
    go-down-moses Verse 1-2; small-rain Verse 1-2; frost-on-the-signal-box Verse 1-4; thimble-and-thread Verse 1-4;
    | spy-in-the-pantry wayfaring-stranger
walk-down: =
    twelve-chairs-one-table Verse 1-2; abide-with-me 1-2; candle-in-the-vestry Verse 1-2; pram-wheels Verse 1-2;
    slow-air-of-the-ferryman 1-4; wedding-at-orchard-farm Chorus 9-10; canon-in-d Close 5-6;
    | milk-churn-junction old-hundredth
walk-down from four: =
    twelve-chairs-one-table Verse 3-4; candle-in-the-vestry Verse 3-4; last-bus-from-aldery-cross Chorus 9-11;
    slow-air-of-the-ferryman 5-7; wedding-at-orchard-farm Chorus 11-12; slane 14-15; twinkle-twinkle Jazz A 10-11;
    | canon-in-d pram-wheels half-past-the-shaving-mug
walk-up: =
    slow-tide-at-penmarrow Verse 1-4; open-the-side-door Verse 1-4; candle-in-the-vestry Chorus 9-10;
    pewter-morning Verse 1-4; wick-and-glass Verse 1-4;
    | simple-gifts swing-low parrot-on-the-hatstand
walk-up by step: =
    o-come-all-ye-faithful Verse 9-10;
    parrot-on-the-hatstand Lift 5-6;
    | copper-weathervane slow-tide-at-penmarrow two-coats-of-paint abide-with-me
pedal on 1: =
    harbour-fog-bell Tonic bell 1-8; organ-loft-drone Pedal on one 1-8; last-bus-from-aldery-cross Verse 1-4;
    | the-weightless-lift wick-and-glass silent-night
pedal on 5: =
    harbour-fog-bell Dominant bell 9-16; organ-loft-drone Pedal on five 9-16;
    | silent-night slane quiet-as-snow-on-slate
four-chord loop:
    turnstile-at-the-baths Verse 1-4, Lift 5-8, Chorus 9-12; paper-boat-parade Verse 1-4, Chorus 5-8;
    ninety-steps-down Chorus 5-8; ledger-of-small-hours Verse 1-4;
    | soda-straw-serenade haywain-reel buttons-on-the-bandstand
four-chord loop begun on 6m:
    ledger-of-small-hours Verse 1-4; spare-key-under-the-fern Verse 1-2; slow-tide-at-penmarrow Chorus 9-12;
    paper-boat-parade Chorus 5-8;
    | milk-churn-junction soda-straw-serenade
four-chord loop begun on 4:
    turnstile-at-the-baths Outro 13-16; o-come-all-ye-faithful Refrain 17-17; points-failure Chorus 5-8;
    | corner-lamp-harmony
four-chord loop begun on 5:
    turnstile-at-the-baths Lift 5-8; old-hundredth 4-5;
    | soda-straw-serenade corner-lamp-harmony
doo-wop:
    soda-straw-serenade Verse 1-4; corner-lamp-harmony Verse 1-4; haywain-reel B 13-15;
    loch-lomond Verse 1-2, Verse 3-4;
    | tollbooth-sunrise canon-in-d
Andalusian cadence: =
    fandango-of-the-orange-court Falling 1-4; ninety-steps-down Bridge 9-12; thimble-and-thread Chorus 9-12;
    when-johnny-comes-marching-home 13-14;
    | lament-for-a-lost-glove greensleeves
canon sequence: =
    canon-in-d Ground 1-4; wedding-at-orchard-farm Verse 1-8; slow-air-of-the-ferryman 1-8;
    | the-first-noel pram-wheels
royal road: =
    number-nine-night-bus Intro 1-4, Chorus 13-16; lanterns-on-quay-street Verse 8-12;
    milk-churn-junction Chorus 9-12; the-water-is-wide 7-10;
    ledger-of-small-hours Chorus 5-8;
    | deep-river last-bus-from-aldery-cross
1 3 4 4m: =
    kettle-on-the-sill A 8-12; aura-lee A 4-7;
    | michael-row-the-boat the-first-noel
1 6 4 2: =
    pram-wheels Verse 1-4;
    parrot-on-the-hatstand Verse 1-4;
    | milk-churn-junction soda-straw-serenade pocketful-of-gravel
minor-five loop: =
    copper-weathervane Intro 1-4, Verse 5-8; lanterns-on-quay-street Verse 1-4;
    | ferry-to-the-far-bank
1 5 b7 4 loop: =
    ferry-to-the-far-bank Verse 1 1-4;
    two-coats-of-paint Outro 13-16, 17-20;
    | copper-weathervane lanterns-on-quay-street girder-street-saturday
1 4 5 4 loop: =
    two-coats-of-paint Chorus 9-9; parrot-on-the-hatstand Chorus 9-11;
    | haywain-reel coal-scuttle-shuffle cadence-drill-in-b-flat
1 4 vamp: =
    reading-lamp-reggae Skank 1-2; chip-shop-clavinet Groove 1-6; sunday-best-shout Chorus 8-14;
    | grease-on-the-gearbox silent-night
ii–V vamp: =
    receipts-in-the-glovebox Vamp 1-4; grease-on-the-gearbox Vamp 1-4; cobalt-umbrella B 16-2;
    | twelve-doors-in-a-corridor
borrowed 4m:
    kettle-on-the-sill A 2-3; home-on-the-range Verse 4-5; aura-lee B 7-8; soda-straw-serenade Bridge 10-11;
    | go-down-moses marmalade-afternoon
4 4m 1:
    home-on-the-range Verse 3-5; organ-loft-drone Close 17-19; corner-lamp-harmony Bridge 5-7; careless-love 11-13;
    | letters-in-the-piano-bench
borrowed b6: =
    chip-shop-clavinet Bridge 11-12;
    girder-street-saturday Chorus 9-10, 13-14; observatory-after-closing A 2-3, 4-5, B 10-11, 14-15;
    | crow-on-the-chimney rubber-sole-strut lamplighters-encore
borrowed b7: =
    girder-street-saturday Chorus 10-11, 14-15; observatory-after-closing B 11-12, 15-16;
    scaffold-poles Out 25-26, 27-28;
    | cartwheel-green copper-weathervane two-coats-of-paint
borrowed b3: =
    girder-street-saturday Outro 17-19, 21-23; scaffold-poles Riff 6-8;
    | chip-shop-clavinet observatory-after-closing lamplighters-encore
major two to four: =
    two-coats-of-paint Verse 1-3, 4-7; scaffold-poles Verse 10-12, 14-16;
    | kite-above-the-reservoir aura-lee home-on-the-range
chromatic mediants: =
    observatory-after-closing A 1-3, 5-7; scaffold-poles Riff 1-3;
    | the-triangular-house girder-street-saturday
major-third cycle: =
    the-triangular-house A 1-7; three-staircases A 1-4;
    | marmalade-afternoon
Dorian vamp: =
    grease-on-the-gearbox Vamp 1-4; receipts-in-the-glovebox Vamp 1-4;
    | wade-in-the-water drunken-sailor
Mixolydian vamp: =
    cartwheel-green Riff 1-4; old-joe-clark B 13-15; ferry-to-the-far-bank Outro 13-16;
    | scarborough-fair copper-weathervane two-coats-of-paint
Phrygian vamp: =
    the-salt-road-east Drone 1-4; sakura 1-3;
    | fandango-of-the-orange-court
Lydian vamp: =
    kite-above-the-reservoir 1-4; the-weightless-lift A 1-4;
    | home-on-the-range
Aeolian loop: =
    turnstile-at-the-baths Verse 3-6;
    points-failure Verse 1-4, Outro 13-16;
    | when-johnny-comes-marching-home ninety-steps-down lame-carousel
passamezzo antico: =
    passamezzo-antico Ground 1-7; greensleeves A 1-7;
    | la-folia romanesca-ground
passamezzo moderno: =
    passamezzo-moderno Ground 1-8; haywain-reel A 1-8; nearer-my-god-to-thee Verse 1-8;
    | coal-scuttle-shuffle clementine
romanesca: =
    romanesca-ground Ground 1-8, Division 9-16; ground-in-blue-ink Romanesca 9-18; greensleeves B 9-16;
    | la-folia
folia: =
    la-folia Theme 1-15; folia-for-the-left-hand Theme 1-15, Theme 16-31;
    | passamezzo-antico greensleeves
key rise: =
    last-bus-from-aldery-cross Last Chorus 17-17; candle-in-the-vestry Last Chorus 13-13;
    old-time-religion Chorus up 17-17, Chorus top 25-25;
    | twelve-doors-in-a-corridor minor-cadence-ladder milk-churn-junction clay-pigeon-tango
"""


class Expected(NamedTuple):
    """What the table says of one progression: places (stem, section, first and last bar), holders, near misses."""

    name: str
    places: tuple[tuple[str, str | None, int, int], ...]
    holders: frozenset[str]
    complete: bool
    misses: frozenset[str]


def expected() -> list[Expected]:
    """The rows of the table."""
    return [_row(row) for row in re.split(r"\n(?! )", TABLE.strip())]


def _row(row: str) -> Expected:
    head, _, rest = row.partition("\n")
    name, _, sign = head.rpartition(":")
    held, _, missed = rest.partition("|")
    places, holders = [], set()
    for tune in filter(str.strip, held.split(";")):
        stem, _, listed = tune.strip().partition(" ")
        holders.add(stem)
        section = ""
        for place in listed.split(","):
            if place.strip():
                label, _, bars = place.strip().rpartition(" ")
                section = label or section
                first, last = map(int, bars.split("-"))
                places.append((stem, section or None, first, last))
    return Expected(name, tuple(places), frozenset(holders), sign.strip() == "=", frozenset(missed.split()))
