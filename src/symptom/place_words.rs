//! Words that name a place: nearside and offside, front and rear, one and both, in the forms people write.
//!
//! Takes plain words; gives marks, which collect into [`PlaceWords`]. Which side *left* or the driver's seat is on depends
//! on the country and the vehicle: see [`Handed`]. Never decides whether a vehicle has such a place.

/// A side of the vehicle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Side {
    /// The side by the kerb.
    Nearside,
    /// The side by the middle of the road.
    Offside,
    /// Both were named.
    Both,
}

/// An end of the vehicle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum End {
    /// The front.
    Front,
    /// Neither front nor rear.
    Middle,
    /// The rear.
    Rear,
}

/// What left and right, driver's and passenger's side come to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Handed {
    /// The left as seen by the driver: the nearside where traffic keeps left.
    pub left: Side,
    /// The driver's side; `None` on a vehicle steered from the middle.
    pub driver: Option<Side>,
}

impl Handed {
    /// Traffic keeps left, driver sits on the right.
    pub const UK: Handed = Handed { left: Side::Nearside, driver: Some(Side::Offside) };
    /// Traffic keeps left, driver sits in the middle: "driver's side" then names no side.
    pub const UK_CENTRE: Handed = Handed { left: Side::Nearside, driver: None };
    /// Traffic keeps right, driver sits on the left.
    pub const KEEP_RIGHT: Handed = Handed { left: Side::Offside, driver: Some(Side::Offside) };

    fn side(self, mark: Mark) -> Option<Side> {
        match mark {
            Mark::Nearside => Some(Side::Nearside),
            Mark::Offside => Some(Side::Offside),
            Mark::BothSides => Some(Side::Both),
            Mark::Left => Some(self.left),
            Mark::Right => Some(across(self.left)),
            Mark::Driver => self.driver,
            Mark::Passenger => self.driver.map(across),
            _ => None,
        }
    }
}

impl Default for Handed {
    fn default() -> Self {
        Handed::UK
    }
}

fn across(side: Side) -> Side {
    match side {
        Side::Nearside => Side::Offside,
        Side::Offside => Side::Nearside,
        Side::Both => Side::Both,
    }
}

/// The place a statement names.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PlaceWords {
    /// The side, or both.
    pub side: Option<Side>,
    /// The end; `None` if none, or if several were named.
    pub end: Option<End>,
    /// "One", "one side", "only one".
    pub one_only: bool,
    /// "Both", "all", "every", "neither".
    pub all: bool,
    /// The other one, or the rest, was said to be well.
    pub other_good: bool,
}

impl PlaceWords {
    /// Collects marks.
    pub(super) fn collect(marks: impl Iterator<Item = Mark>, handed: Handed) -> PlaceWords {
        let mut place = PlaceWords::default();
        let mut several_ends = false;
        for mark in marks {
            if let Some(side) = handed.side(mark) {
                place.side = Some(match place.side {
                    Some(before) if before != side => Side::Both,
                    _ => side,
                });
            }
            let end = match mark {
                Mark::Front => Some(End::Front),
                Mark::Middle => Some(End::Middle),
                Mark::Rear => Some(End::Rear),
                _ => None,
            };
            if let Some(end) = end {
                several_ends |= place.end.is_some_and(|before| before != end);
                place.end = Some(end);
            }
            place.one_only |= matches!(mark, Mark::One | Mark::OneSide);
            place.all |= matches!(mark, Mark::All | Mark::BothSides | Mark::Neither);
        }
        if several_ends {
            place.end = None;
        }
        if place.all {
            place.one_only = false;
        }
        place
    }

    /// Takes side and end from `other` where this has neither.
    pub(super) fn inherit(&mut self, other: PlaceWords) {
        if self.side.is_none() && self.end.is_none() {
            self.side = other.side;
            self.end = other.end;
        }
    }
}

/// A word or two that name a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mark {
    Nearside,
    Offside,
    BothSides,
    Left,
    Right,
    Driver,
    Passenger,
    Front,
    Middle,
    Rear,
    One,
    /// "One side".
    OneSide,
    All,
    /// "Neither", "none": all of them, and not.
    Neither,
    /// "Other", "rest", "else".
    Other,
}

impl Mark {
    /// The word it goes by in matching; left and right go by their British side.
    pub fn word(self) -> &'static str {
        match self {
            Mark::Nearside | Mark::Left | Mark::Passenger => "nearside",
            Mark::Offside | Mark::Right | Mark::Driver => "offside",
            Mark::Front => "front",
            Mark::Middle => "middle",
            Mark::Rear => "rear",
            Mark::One | Mark::OneSide => "one",
            Mark::BothSides | Mark::All | Mark::Neither => "all",
            Mark::Other => "other",
        }
    }

    /// Whether it counts places and does not name one.
    pub fn is_quantity(self) -> bool {
        matches!(self, Mark::One | Mark::OneSide | Mark::All | Mark::Neither | Mark::BothSides | Mark::Other)
    }

    /// The other side; the mark itself where it names none.
    pub fn across(self) -> Mark {
        match self {
            Mark::Nearside => Mark::Offside,
            Mark::Offside => Mark::Nearside,
            Mark::Left => Mark::Right,
            Mark::Right => Mark::Left,
            Mark::Driver => Mark::Passenger,
            Mark::Passenger => Mark::Driver,
            other => other,
        }
    }

    /// Whether it names one side.
    pub fn is_side(self) -> bool {
        matches!(self, Mark::Nearside | Mark::Offside | Mark::Left | Mark::Right | Mark::Driver | Mark::Passenger)
    }

    /// Whether it names a side or an end.
    pub fn is_spot(self) -> bool {
        !self.is_quantity() || self == Mark::BothSides
    }
}

/// Words that are places whatever stands beside them; for the speller.
pub(super) const PLACE_WORDS: &str = "nearside offside kerbside front rear left right middle centre both other side driver \
drivers passenger passengers";

/// Reads the place word at the head of `words[at..]`: how many words it takes, and its one or two marks.
pub(super) fn place_at(words: &[&str], at: usize) -> Option<(usize, Mark, Option<Mark>)> {
    let word = words.get(at).copied()?;
    let next = words.get(at + 1).copied().unwrap_or("");
    let after = words.get(at + 2).copied().unwrap_or("");
    let before = if at == 0 { "" } else { words.get(at - 1).copied().unwrap_or("") };
    let is_side = |w: &str| matches!(w, "side" | "sides" | "hand" | "handed");
    let one = |mark| Some((1, mark, None));
    // A side word swallows "hand" and "side" behind it.
    let with_side = |mark| {
        if next == "hand" && matches!(after, "side" | "sides") {
            Some((3, mark, None))
        } else if is_side(next) {
            Some((2, mark, None))
        } else {
            Some((1, mark, None))
        }
    };
    if word.contains('/') {
        return short(&word.replace('/', ""));
    }
    match word {
        "near" if matches!(next, "side" | "sides") => Some((2, Mark::Nearside, None)),
        "off" if matches!(next, "side" | "sides") => Some((2, Mark::Offside, None)),
        "kerb" if next == "side" => Some((2, Mark::Nearside, None)),
        "nearside" | "nside" | "kerbside" | "curbside" => one(Mark::Nearside),
        "offside" | "oside" => one(Mark::Offside),
        "lefthand" | "leftside" => with_side(Mark::Left),
        "righthand" | "rightside" => with_side(Mark::Right),
        "left" => {
            let verb = matches!(
                next,
                "on" | "overnight"
                    | "standing"
                    | "parked"
                    | "for"
                    | "it"
                    | "out"
                    | "in"
                    | "running"
                    | "over"
                    | "unused"
            ) || matches!(before, "been" | "i" | "have" | "had" | "has" | "ive");
            if verb { None } else { with_side(Mark::Left) }
        }
        "right" => {
            let verb =
                matches!(next, "away" | "through" | "down" | "up" | "off" | "after" | "now" | "round" | "enough")
                    || matches!(
                        before,
                        "all"
                            | "just"
                            | "quite"
                            | "look"
                            | "looks"
                            | "sounds"
                            | "sound"
                            | "feels"
                            | "feel"
                            | "is"
                            | "are"
                            | "run"
                            | "runs"
                            | "running"
                            | "sit"
                            | "sits"
                    )
                    || (super::common_words::NOT.split_whitespace().any(|w| w == before) && next.is_empty());
            if verb { None } else { with_side(Mark::Right) }
        }
        "driver" | "drivers" | "driving" if next == "side" => Some((2, Mark::Driver, None)),
        "passenger" | "passengers" if next == "side" => Some((2, Mark::Passenger, None)),
        "passenger" if !matches!(next, "seat" | "") => one(Mark::Passenger),
        "front" | "fore" | "frontmost" => {
            if matches!(next, "end") {
                Some((2, Mark::Front, None))
            } else {
                one(Mark::Front)
            }
        }
        "rear" | "aft" | "rearmost" | "hind" => {
            if matches!(next, "end") {
                Some((2, Mark::Rear, None))
            } else {
                one(Mark::Rear)
            }
        }
        "back" => {
            let verb = matches!(
                before,
                "come"
                    | "comes"
                    | "came"
                    | "coming"
                    | "go"
                    | "goes"
                    | "going"
                    | "went"
                    | "gone"
                    | "spring"
                    | "springs"
                    | "snap"
                    | "snaps"
                    | "push"
                    | "kick"
                    | "kicks"
                    | "flow"
                    | "flows"
                    | "put"
                    | "get"
                    | "gets"
                    | "look"
                    | "roll"
                    | "rolls"
                    | "pull"
                    | "pulls"
                    | "draw"
                    | "drop"
                    | "drops"
                    | "return"
                    | "returns"
                    | "turn"
                    | "hold"
                    | "holds"
                    | "way"
                    | "bounce"
                    | "bounces"
            ) || matches!(
                next,
                "up" | "to"
                    | "again"
                    | "on"
                    | "off"
                    | "down"
                    | "out"
                    | "fire"
                    | "fires"
                    | "firing"
                    | "pressure"
                    | "plate"
                    | "lash"
            );
            match (verb, next) {
                (true, _) => None,
                (false, "end") => Some((2, Mark::Rear, None)),
                (false, _) => one(Mark::Rear),
            }
        }
        "middle" | "centre" | "mid" | "central" => one(Mark::Middle),
        "both" | "either" => {
            if matches!(next, "side" | "sides") {
                Some((2, Mark::BothSides, None))
            } else {
                one(Mark::All)
            }
        }
        "everything" | "all" if next == "else" => Some((2, Mark::Other, None)),
        "all" if before == "at" || matches!(next, "right" | "the" if matches!(after, "time" | "")) => None,
        "all" if matches!(next, "over" | "day" | "night" | "week" | "year" | "along" | "sudden" | "but" | "it") => None,
        "all" if next == "of" && matches!(after, "a" | "sudden") => None,
        "every"
            if matches!(
                next,
                "time"
                    | "so"
                    | "now"
                    | "morning"
                    | "day"
                    | "few"
                    | "once"
                    | "couple"
                    | "other"
                    | "night"
                    | "week"
                    | "month"
                    | "year"
                    | "two"
                    | "three"
            ) =>
        {
            None
        }
        "all" | "every" | "each" => one(Mark::All),
        "neither" | "none" => one(Mark::Neither),
        "one" | "single" => {
            if matches!(
                before,
                "other"
                    | "this"
                    | "that"
                    | "the"
                    | "which"
                    | "left"
                    | "right"
                    | "rear"
                    | "front"
                    | "back"
                    | "no"
                    | "new"
                    | "nearside"
                    | "offside"
            ) {
                None
            } else if matches!(next, "side") {
                Some((2, Mark::OneSide, None))
            } else {
                one(Mark::One)
            }
        }
        "other" | "others" | "else" | "rest" | "remaining" | "opposite" => {
            if matches!(next, "side" | "one" | "ones") {
                Some((2, Mark::Other, None))
            } else {
                one(Mark::Other)
            }
        }
        "ns" | "os" | "lh" | "rh" | "lhs" | "rhs" | "nsf" | "nsr" | "osf" | "osr" | "lhf" | "lhr" | "rhf" | "rhr"
        | "fl" | "fr" | "rl" | "rr" | "lf" | "rf" | "lr" | "fns" | "fos" | "rns" | "ros" => short(word),
        _ => None,
    }
}

/// Letters that stand for place words, strokes taken out.
fn short(letters: &str) -> Option<(usize, Mark, Option<Mark>)> {
    let (side, end) = match letters {
        "ns" => (Mark::Nearside, None),
        "os" => (Mark::Offside, None),
        "lh" | "lhs" => (Mark::Left, None),
        "rh" | "rhs" => (Mark::Right, None),
        "nsf" | "fns" => (Mark::Nearside, Some(Mark::Front)),
        "nsr" | "rns" => (Mark::Nearside, Some(Mark::Rear)),
        "osf" | "fos" => (Mark::Offside, Some(Mark::Front)),
        "osr" | "ros" => (Mark::Offside, Some(Mark::Rear)),
        "lhf" | "lf" | "fl" => (Mark::Left, Some(Mark::Front)),
        "lhr" | "lr" | "rl" => (Mark::Left, Some(Mark::Rear)),
        "rhf" | "rf" | "fr" => (Mark::Right, Some(Mark::Front)),
        "rhr" | "rr" => (Mark::Right, Some(Mark::Rear)),
        _ => return None,
    };
    Some((1, side, end))
}

#[cfg(test)]
mod tests {
    use super::super::normalise::Text;
    use super::*;

    fn read(text: &str, handed: Handed) -> PlaceWords {
        let text = Text::new(text, 60);
        let words: Vec<&str> = text.tokens.iter().map(|t| t.word.as_str()).collect();
        let mut marks = Vec::new();
        let mut at = 0;
        while at < words.len() {
            match place_at(&words, at) {
                Some((taken, mark, more)) => {
                    marks.push(mark);
                    marks.extend(more);
                    at += taken;
                }
                None => at += 1,
            }
        }
        PlaceWords::collect(marks.into_iter(), handed)
    }

    fn spot(text: &str) -> (Option<Side>, Option<End>) {
        let place = read(text, Handed::UK);
        (place.side, place.end)
    }

    #[test]
    fn sides_and_ends_are_read_in_every_form() {
        let cases = [
            ("nearside rear lamp", Some(Side::Nearside), Some(End::Rear)),
            ("near side lamp", Some(Side::Nearside), None),
            ("N/S/R lamp", Some(Side::Nearside), Some(End::Rear)),
            ("NSR lamp", Some(Side::Nearside), Some(End::Rear)),
            ("OSF lamp", Some(Side::Offside), Some(End::Front)),
            ("n/s mirror", Some(Side::Nearside), None),
            ("o.s. mirror", Some(Side::Offside), None),
            ("off-side front", Some(Side::Offside), Some(End::Front)),
            ("left hand side back light", Some(Side::Nearside), Some(End::Rear)),
            ("right-hand mirror", Some(Side::Offside), None),
            ("driver's side wiper", Some(Side::Offside), None),
            ("passenger side wiper", Some(Side::Nearside), None),
            ("front centre lamp", None, None),
            ("kerbside lamp", Some(Side::Nearside), None),
            ("left and right lamps", Some(Side::Both), None),
            ("both sides", Some(Side::Both), None),
        ];
        for (text, side, end) in cases {
            assert_eq!(spot(text), (side, end), "{text}");
        }
    }

    #[test]
    fn left_right_and_back_are_no_places_where_they_are_verbs_or_manners() {
        for text in ["left on overnight", "not right", "comes back", "all right", "ive left it", "runs right through"] {
            assert_eq!(spot(text), (None, None), "{text}");
        }
    }

    #[test]
    fn one_and_all_are_told_apart() {
        assert!(read("one lamp", Handed::UK).one_only);
        assert!(read("one side only", Handed::UK).one_only);
        assert!(!read("the other one", Handed::UK).one_only);
        assert!(read("both lamps", Handed::UK).all && read("neither lamp", Handed::UK).all);
        assert!(!read("not at all", Handed::UK).all);
    }

    #[test]
    fn the_country_and_the_driving_seat_turn_the_sides() {
        assert_eq!(read("left lamp", Handed::KEEP_RIGHT).side, Some(Side::Offside));
        assert_eq!(read("driver's side", Handed::KEEP_RIGHT).side, Some(Side::Offside));
        assert_eq!(read("driver's side", Handed::UK_CENTRE).side, None);
        assert_eq!(read("passenger side", Handed::KEEP_RIGHT).side, Some(Side::Nearside));
    }
}
