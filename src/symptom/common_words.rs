//! The everyday words of English that typed symptoms are full of, sorted by what they do to the meaning.
//!
//! Plain lists, words apart by spaces. Trade words do not belong here: they come from the knowledge.

/// Words that never carry meaning for us and are dropped at once.
pub(super) const EMPTY: &str = "\
a an the this that these those my your yours his hers its it our their theirs i me we us you he she they them him her \
is are was were be been being am im ive id ill weve theyre theyve thats theres heres whats hes shes youre \
do does did doing done has have had having will would shall should can could may might must \
of at by for from into with onto to within as so than there here just very quite really rather too \
which who whom what where why how bit little \
some any such same about around per via upon be seem seems seemed seeming appear appears appeared \
please help hi hello hey thanks thank mate pal lads guys anyone anybody someone somebody something anything \
ive got like kind sort kinda sorta basically actually probably perhaps maybe think thinks thought believe guess \
suppose notice noticed noticing found find finds check checked ere ye yer yon wee ma oor yin summat owt aye \
hers whose wherever however";

/// Verbs and small words that only matter inside an expression ("stays on", "cuts out"), dropped where none is found.
pub(super) const LIGHT: &str = "\
in let lets go goes going went come comes coming came get gets got getting gotten keep keeps keeping kept make makes making made \
give gives giving gave given take takes taking took put puts putting try tries trying tried want wants wanting \
become becomes became begin begins began happen happens happening happened use uses using used need needs \
now then again time times often longer anymore any more less much many few ever even still already own yet first last everything \
twice hand way up down over on off out under through away back along apart together right left well whole thing things \
joy bother look looks looking feel feels feeling felt sound sounds sounding show shows showing";

/// Small words that change a verb ("stays on", "stays off"): an expression never reads over them.
pub(super) const PARTICLES: &str = "on off out up down over under in away back";

/// Words that turn the meaning round.
pub(super) const NOT: &str = "\
not no none nor neither never nothing wont dont doesnt didnt isnt arent wasnt werent cant cannot couldnt wouldnt shouldnt \
hasnt havent hadnt aint nt without nowt nae doesny dinnae didnae isnae wilnae willnae winna canny cannae dosnt \
dosent doesent doesn donot";

/// Holds back: what is said holds only in some case.
pub(super) const HEDGE: &str = "only when whenever if unless until till while during after once";

/// Joins two statements.
pub(super) const AND: &str = "and also plus n";
/// Sets one statement against another.
pub(super) const BUT: &str = "but although though whereas however yet except otherwise";

/// Everyday words without meaning for a vehicle: dropped unless the knowledge uses them, and never taken for
/// misspelt trade words.
pub(super) const CHATTER: &str = "\
today yesterday tomorrow next due tonight morning afternoon evening night day days week weeks month months year years ago since \
hour hours minute minutes second seconds monday tuesday wednesday thursday friday saturday sunday january february march \
april june july august september october november december winter summer spring autumn weekend lately recently suddenly \
finally usually normally currently already soon later earlier before always home house garage shop town \
village city job trip journey road street lane hill park parked parking driving drive drove driven drives ride \
riding rode travel travelling mother father brother sister wife husband son daughter friend neighbour boss man woman \
people person kid kids dog cat farm yard shed field market mechanic tester inspector test tested tests mot \
refused refusal inspection certificate appointment booked bought buy buying sold sell old older new newer used ancient \
vehicle vehicles van vans car cars truck lorry bike motorbike motorcycle pickup machine beast three wheeler \
wheeled trike rickshaw combination outfit unit item bits bobs stuff thing things way lot lots loads couple \
several another same different various certain sure sorry hope hoping wonder wondering know knows knew known tell tells \
told say says said saying see sees saw seen seeing hear hears heard hearing ask asks asked asking mean means meant \
fix fixed fixing repair repaired mend mended replace replaced replacing change changed changing swap swapped swapping \
fitted fitting fit buying paid pay money cheap idea ideas question answer reason cause causing caused \
little small big large long huge tiny nice lovely great terrible awful horrible annoying weird strange odd funny \
stupid bloody damn flipping blasted blooming ruddy proper really totally completely entirely fully absolutely \
exactly almost nearly barely hardly simply especially particularly generally most mostly more less least few \
upon across against between among behind beside beyond past towards toward forward forwards backwards \
raining snow sun weather holiday church school office bank post letter phone book paper table chair bread milk \
name names call called calling word words story life world country place places area areas corner \
child children family food tea coffee beer lunch dinner breakfast bed sleep eat drink read write walk \
moment whilst anyway bother due owing thanks cheers regards yes ta bye \
board boat bird horse mouse nose rose lose lost loss closed \
ten twenty thirty forty fifty sixty seventy eighty ninety hundred \
noticed seems somewhat plainly visibly obviously clearly apparently constantly";

/// Words behind which a circumstance stands, once something was named.
pub(super) const PASSING: &str =
    "when whenever after since while whilst during once until till if before because despite unless";

/// Words for the vehicle as a whole.
pub(super) const VEHICLES: &str = "vehicle vehicles van vans car cars truck trucks lorry bike bikes motorbike motorbikes \
motorcycle pickup trike rickshaw";

/// Stems of words for when and where something was noticed, beside the everyday words.
pub(super) const CIRCUMSTANCES: &str = "\
rain bump morn night overnight weather puddl motorway hill lane journey junction traffic winter summer mile yard road \
garag drove stood month year week day hour minut ago again late mot tester old second-hand recent";

/// Stems that say how something is wrong, not what: they weigh less than the name of a component.
pub(super) const STATES: &str = "\
dim bright flicker flash blink fast quick slow rapid stuck stick sticky stay remain loose slack tight stiff hard \
soft heavy leak drip weep seep ooze wet damp noisy noise squeal squeak squeal screech grind knock rattle rumble hum buzz \
click clunk clonk whine crackle crunch scrape scratch rub hiss whistle roar drone bang tick tap clatter hot cold warm \
overheat burn burnt melt smell stink smoke smoky rust rusty corrode corroded corrosion rot rotten crack cracked split torn \
tear bent bend twist twisted worn wear perish perished chafe chafed fray frayed miss missing blow blown pop low high \
weak feeble faint strong intermittent sometimes occasional random erratic pull wobble shake vibrate vibration judder \
shudder shimmy wander jerk snatch slip drag bind seize seized jump jumpy smear streak chatter skip misfire splutter cut \
stall die hunt surge drain flat sag sagging sink uneven spongy full empty dirty dull yellow cloudy misty mist steam steamy \
condensation moisture white red blue black green orange amber brown grey thick thin quiet loud louder hoarse \
rough smooth lumpy grumble lean droop drop lift rise fall fell fallen snap snapped broken break broke shatter chip chipped \
dent dented pierce puncture bald shallow deep jam jammed move locked crooked misaligned \
aim straight twisted detach hang touch foul catch wrong late early long clog blocked block \
frozen freeze vary varies delay delayed flood press push hit bump run reach hold \
return cancel discharge weld pit pitted glaze contaminate oily greasy lose lost constant permanent \
continuous always stutter hesitate flutter rapid sluggish laboured kick buck surge lurch wallow bounce dive backfire bottom dazzle draughty fade overcharge pink race rain release steady swap cloud accident \
corner itself play free lack hesitate punctured clear hold catch run spin rev stamp reach climb engage set open shut close \
cover hide squirt spray reel retract see difficult";

/// Stems that say a lamp gives light: amiss for a warning lamp, well for "the other one".
pub(super) const LIT: &str = "lit glow lighted illuminate shine";

/// Stems that say only that something is amiss.
pub(super) const GENERIC: &str = "\
dead bad faulty fault problem trouble issue fail failure defect defective duff poor amiss damage damaged";

/// Stems that say all is well.
pub(super) const GOOD: &str = "good work";

/// Spellings brought to the British form before anything else, as pairs.
pub(super) const SPELLINGS: &str = "\
tire tyre tires tyres color colour colored coloured gray grey center centre centers centres aluminum aluminium \
gage gauge gages gauges license licence odor odour odors odours vapor vapour plow plough mold mould fiber fibre \
meter metre meters metres curb kerb  labored laboured discolored discoloured neighbor neighbour \
favor favour analyze analyse liter litre liters litres maneuver manoeuvre sulfur sulphur \
lite light lites lights nite night thru through tho though wanna want gonna going ur your u you w with w/o without \
wheals wheels break brake breaks brakes braek brake braeks brakes brakeing braking hte the teh the adn and mins minutes hrs hours secs seconds yrs years wks weeks";

/// Expressions for "does not work", "is well" and the like, known whatever the knowledge holds: key, then expressions.
pub(super) const CORE: &[(&str, &[&str])] = &[
    (
        "dead",
        &[
            "not working",
            "not worked",
            "stopped working",
            "stop working",
            "quit working",
            "quit",
            "packed up",
            "packed in",
            "packing up",
            "given up",
            "gave up",
            "conked out",
            "conked",
            "kaput",
            "inoperative",
            "inop",
            "out of order",
            "out of action",
            "does nothing",
            "doing nothing",
            "nothing happens",
            "not lit",
            "unlit",
            "not light up",
            "not come on",
            "not coming on",
            "not go on",
            "not turn on",
            "not switch on",
            "not operate",
            "not operating",
            "not function",
            "not functioning",
            "not respond",
            "no good",
            "not good",
            "u/s",
            "unserviceable",
            "bust",
            "busted",
            "knackered",
            "is no more",
            "not going",
            "burnt out",
            "burned out",
            "no longer works",
            "no joy",
            "shot",
            "not do",
            "nonfunctional",
            "broken down",
        ],
    ),
    (
        "good",
        &[
            "fine",
            "ok",
            "okay",
            "k",
            "alright",
            "all right",
            "perfect",
            "perfectly",
            "normal",
            "as normal",
            "no problem",
            "no problems",
            "nothing wrong",
            "no fault",
            "no faults",
            "no issue",
            "no issues",
            "no trouble",
            "healthy",
            "grand",
            "sound as a pound",
            "spot on",
            "not bad",
            "as should",
            "happy",
            "good order",
            "good nick",
        ],
    ),
    ("work", &["works", "working", "worked", "operates", "operating", "operate", "functions", "functioning"]),
    (
        "stays on",
        &[
            "stuck on",
            "stay on",
            "remains on",
            "stays lit",
            "always on",
            "always lit",
            "permanently on",
            "constantly on",
            "on all the time",
            "lit all the time",
            "on permanently",
            "not go off",
            "not going off",
            "not turn off",
            "not switch off",
            "not go out",
            "not going out",
            "never off",
            "keeps on",
            "on constantly",
            "will not stop",
            "not shut off",
            "still on",
        ],
    ),
    (
        "intermittent",
        &[
            "sometimes",
            "some times",
            "now and then",
            "now and again",
            "on and off",
            "off and on",
            "occasionally",
            "occasional",
            "comes and goes",
            "every so often",
            "erratic",
            "erratically",
            "intermittently",
            "once in a while",
            "at times",
            "cuts in and out",
            "in and out",
            "hit and miss",
            "temperamental",
            "when it feels like it",
        ],
    ),
];
