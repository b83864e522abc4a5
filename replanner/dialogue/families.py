"""Words that come to the same where a line is only guessed at, as data: add a word to its family.

The first of a family stands for all. Here a word may stand for more than it would be acted on
for: a guess that would change the plan is asked about first (`likely`).
"""

from collections.abc import Mapping

_FAMILIES = """
skip: drop omit avoid bin ditch scrap axe cut remove bypass without lose
ride: do add include
closed: shut blocked impassable roadblock barrier closure
closed: landslide rockfall landslip avalanche washout floods
flood: flooded flooding underwater
open: opened reopen reopened passable
swap: switch exchange change trade flip
move: shift push postpone defer delay reschedule
leave: start depart set departure head off out
late: behind delayed delay
minutes: min mins minute
stop: stopping stopped pause pausing halt
lunch: coffee tea food meal snack breakfast eating eat brew cuppa
break: rest pause stop
tired: knackered exhausted sleepy shattered beat worn pooped drained
tired: weary spent wrecked fatigued
cold: freezing frozen chilled shivering numb icicle
wet: rain raining pouring drizzle drizzling shower showers soaked chucking bucketing
dry: sunny dried
fog: foggy mist misty murk haar clag visibility
wind: windy gust gusts gusty gale blowy breezy blowing winds
blown: blowing pushed thrown throwing tossed
gravel: chippings stones grit washboard gravelly
mud: muddy mudbath slurry muddied
slippery: slick greasy icy oil diesel ice oily slippy
swept: cleared cleaned
thunder: lightning thunderstorm storm thundering
puncture: punctured flat tyre tire breakdown broken broke snapped
moving: rolling going mobile running
fixed: mended repaired sorted
fuel: petrol gas gasoline benzin
pump: station garage
boat: ferry sailing ship
missed: miss
cancelled: canceled off
tide: tidal
home: base hotel
quick: quickest fastest shortest safest fast
stay: staying sleep sleeping overnight
reverse: backwards reversed round around anticlockwise counterclockwise clockwise
drone: fly flying
picture: map drawing chart image graph
gpx: track
export: download
erase: delete remove wipe
data: account
quiet: silence mute hush silent shush
messages: message messaging texting pinging texts
weather: wx
forecast: model
sure: certain confident reliable
chances: odds probability chance
why: reason reasons explain how come
plan: itinerary schedule
tonight: evening
again: repeat
keep: stick leave stay
own: original old my mine our
order: sequence
alternative: backup alternatives option options other plan
cautions: caution warnings warning safety risks dangers
spare: slack margin buffer
turn: turning turned turnaround
somebody: someone rider mate
leaving: leave dropping quitting
hurt: injured bleeding unconscious bleed
doctor: ambulance medic paramedic
update: updates news
skip: lose cancel strike exclude forgo kill
closed: barricaded gated cordoned
late: overdue slow lagging
tired: cooked bushed fried whacked zonked fading drowsy aching exhausting
cold: chilly brr shiver hypothermia
wet: drenched downpour soaking spitting lashing tipping hammering rained
wind: blustery squall squally stormy windier
blown: swerving knocked shoved buffeted battered sideways throws pushes blows threw pushed
fog: cloud clouds murky whiteout hazy clag
dry: drying sunshine
thunder: flash flashes rumbling storms
gravel: pebbles shingle sand sandy loose scree
mud: boggy swampy sludge clay swamp
slippery: skating skiddy sliding leaves
puncture: leak leaking nail overheated overheating stalled clutch battery brakes kaput
moving: riding underway resumed resuming continuing carrying
home: camp hostel lodge digs campsite
quiet: enough nagging bothering pestering spamming
messages: notifications pings buzzing
erase: wipe purge
undo: revert
ok: confirmed approved roger agreed agree
board: notice
late: held
hurt: breathing rescue
see: show look
show: send give
mud: muck manure dung
leave: left leaves
next: following
"""


def _read() -> Mapping[str, frozenset[str]]:
    families: dict[str, set[str]] = {}
    for line in _FAMILIES.strip().splitlines():
        head, _, members = line.partition(":")
        for word in (head, *members.split()):
            families.setdefault(word, set()).add(head)
    return {word: frozenset(heads) for word, heads in families.items()}


FAMILY_OF: Mapping[str, frozenset[str]] = _read()
