//! Characters that drive a terminal or turn the direction of writing, typed, given as arguments and written in files.

use super::*;

#[test]
fn nothing_typed_drives_the_terminal() {
    let line = |text: &str| format!("{text}{NASTY}{text}").into_bytes();
    let ran = prompt(&[
        &line("flux capacitor "),
        &line("kazoo mumbles "),
        &line("lots"),
        &line("12 "),
        &line("also kazoo wobbles "),
        &line("x"),
        b"u",
        &line("lookup "),
        &line("vehicle use "),
        &line("reckon fuse "),
        b"answers",
        b"why",
        b"s",
    ]);
    assert_eq!(ran.exit, Exit::Done);
    assert_has(&ran.out, &["\u{fffd}[31m"]);
}

#[test]
fn nothing_in_an_argument_drives_the_terminal() {
    let nasty = |before: &str, after: &str| format!("{before}{NASTY}{after}");
    for (args, exit, says) in [
        (vec![nasty("x", "")], Exit::Usage, "unrecognized"),
        (vec!["--hourly".into(), nasty("", "")], Exit::Usage, "--hourly"),
        (vec!["reckon".into(), "fuse".into(), nasty("", "")], Exit::Usage, "invalid"),
        (vec!["--knowledge".into(), nasty("/nowhere", "")], Exit::NoInput, "there is no folder /nowhere"),
        (vec!["knowledge".into(), "check".into(), nasty("/nowhere", "")], Exit::NoInput, "there is no folder"),
        (vec!["--vehicle".into(), nasty("/nowhere", "")], Exit::NoInput, "no vehicle or vehicle file"),
        (vec!["--trait".into(), nasty("fuel=", "")], Exit::BadData, "`fuel` is never"),
        (vec!["--today".into(), nasty("", "")], Exit::Usage, "year-month-day"),
        (vec!["lookup".into(), nasty("kazoo", "")], Exit::No, "Nothing here is called"),
        (vec!["trace".into(), "--no-input".into(), nasty("flux", " capacitor")], Exit::No, "Nothing here matches"),
        (vec!["trace".into(), "--json".into(), nasty("flux", " capacitor")], Exit::No, "splitpin"),
        (
            vec!["trace".into(), "--no-input".into(), "--given".into(), nasty("a", "=yes")],
            Exit::BadData,
            "no sign is called",
        ),
    ] {
        let args = if args[0] == "--hourly" { [vec!["trace".to_owned()], args].concat() } else { args };
        let ran = splitpin(&args, b"");
        assert_eq!(ran.exit, exit, "{args:?}: {}{}", ran.out, ran.err);
        assert_calm(&ran.out);
        assert_calm(&ran.err);
        assert_has(&format!("{}{}", ran.out, ran.err), &[says]);
    }
}

#[test]
fn nothing_in_a_vehicle_file_drives_the_terminal() {
    let escaped: String = NASTY.chars().map(|c| format!("\\u{:04x}", u32::from(c))).collect();
    let text = format!("name = \"cart {escaped}\"\nabout = \"about {escaped}.\"\n[places]\nside = [\"nearside\"]\n");
    let path = written("nasty-vehicle", "cart.toml", text);
    let ran = splitpin(&["--knowledge", OWN, "--vehicle", &path], b"kazoo mumbles\ns\n");
    assert_eq!(ran.exit, Exit::Done);
    assert_has(&ran.out, &["cart \u{fffd}[31m", "Summary:"]);
    assert_calm(&ran.out);

    // Written raw, beside mistakes, so that the lines are shown. TOML itself refuses the one-byte controls.
    let raw = "\u{9b}2J\u{202e}\u{200f}\u{feff}\u{61c}";
    let text = format!(
        "name = 5 # {raw}\n\"{raw}\" = 1\n[traits]\n\"x{raw}\" = \"y\"\nfuel = \"{raw}\"\n[places]\n\"lamp{raw}\" = []\nlamp = [\"{raw}\"]\n\u{1b}[31m\n"
    );
    let loaded = small_vehicle(&text);
    assert!(loaded.has_errors());
    let shown = render_all(&loaded.problems, &loaded.sources, false);
    assert_has(&shown, &["V001", "V002", "V003", "V101", "V102", "V103"]);
    assert_calm(&shown);
}

#[test]
fn nothing_in_a_knowledge_file_drives_the_terminal() {
    let own = fs::read_to_string(Path::new(OWN).join("kazoo/kazoo.toml")).expect("the invented system");
    let escaped: String = NASTY.chars().map(|c| format!("\\u{:04x}", u32::from(c))).collect();
    let mut text = String::new();
    for line in own.lines() {
        // Every text for people ends in the nasty characters; ids stay as they are.
        let prose = ["name = ", "ask = ", "steps = ", "if-yes = ", "if-no = ", "measure = "]
            .iter()
            .any(|k| line.starts_with(k));
        let end = line.rfind('"').filter(|_| prose);
        match (end, line.find("?\"")) {
            (Some(_), Some(i)) => text.push_str(&format!("{}{escaped}?{}", &line[..i], &line[i + 1..])),
            (Some(i), None) => text.push_str(&format!("{}{escaped}{}", &line[..i], &line[i..])),
            _ => text.push_str(line),
        }
        text.push('\n');
    }
    text.push_str(&format!(
        "[trait.kazoo-key]\nname = \"key {escaped}\"\nvalues = [\"c\"]\ndefault = \"c\"\nabout = \"{escaped}\"\nsource = \"common-practice\"\n\
         [item.kazoo-a]\nname = \"x\"\nmanual = \"m\"\nsection = \"99.{escaped}\"\ndefect = \"a\"\ncategory = \"minor\"\nnot-tied = \"why {escaped}\"\nsource = \"common-practice\"\n\
         [term.kazoo]\nname = \"kazoo\"\nmeans = \"a reed {escaped}\"\nsource = \"common-practice\"\n"
    ));
    let folder = tempdir("nasty-knowledge");
    let system = folder.join("kazoo\u{9b}\u{202e}");
    fs::create_dir_all(&system).expect("a folder");
    fs::write(system.join("kazoo.toml"), &text).expect("a file");
    let folder = folder.display().to_string();
    for (args, exit, says) in [
        (vec![], Exit::Done, "measure at the kazoo"),
        (vec!["trace", "--json", "kazoo mumbles"], Exit::Done, "kazoo battery weak"),
        (vec!["lookup", "kazoo"], Exit::Done, "a reed"),
        (vec!["vehicle", "traits"], Exit::Done, "kazoo-key"),
        (vec!["knowledge", "count"], Exit::Done, "kazoo-a: why"),
    ] {
        let all: Vec<&str> = ["--knowledge", &folder].into_iter().chain(args).collect();
        let ran = splitpin(&all, b"kazoo mumbles\nwhy\n11\ncauses\nanswers\nalso kazoo wobbles\n1\ns\n");
        assert_eq!(ran.exit, exit, "{all:?}: {}", ran.err);
        assert_has(&ran.out, &[says, "\u{fffd}[31m"]);
        assert_calm(&ran.out);
        assert_calm(&ran.err);
    }
}

#[test]
fn a_broken_knowledge_file_is_shown_without_what_drives_the_terminal() {
    let folder = tempdir("nasty-broken");
    let raw = "\u{9b}2J\u{202e}\u{200f}\u{feff}\u{61c}";
    let text =
        format!("# {raw}\n[fault.\"x{raw}\"] # {raw}\nname = \"{raw}\" # {raw}\nwehn = 1 # {raw}\n\u{1b}[31m {raw}\n");
    fs::write(folder.join(format!("a{raw}.toml")), text).expect("a file");
    let loaded = load(&Files::folder(Path::new(SOUND)).and_then(|f| f.and_folder(&folder)).expect("the folder"));
    let shown = render_all(&loaded.problems, &loaded.sources, false);
    assert_has(&shown, &["K001", "K006", ".toml:2:"]);
    assert_calm(&shown);
    let coloured = render_all(&loaded.problems, &loaded.sources, true);
    for colour in coloured.split('\u{1b}').skip(1) {
        let code = colour.split_once('m').map_or(colour, |(code, _)| code);
        assert!(code.chars().all(|c| matches!(c, '[' | ';' | '0'..='9')), "only colours: {code:?}");
    }
    assert_calm(&coloured.replace('\u{1b}', ""));
}
