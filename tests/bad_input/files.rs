//! Vehicle files, knowledge folders, traits and findings that are wrong, missing or cannot be.

use super::*;

#[test]
fn a_vehicle_file_is_told_everything_that_is_wrong_with_it_at_once() {
    let text = "\
nmae = \"cart\"
name = 5
[traits]
feul = \"diesel\"
fuel = \"diesle\"
wheels = \"three\"
[places]
lmap = [\"nearside\"]
lamp = [\"nearside\", \"left\", \"nearside\", 7]
side = \"nearside\"
";
    let loaded = small_vehicle(text);
    let found: Vec<(usize, &str)> =
        loaded.problems.iter().filter_map(|p| Some((loaded.sources.line(p.at.as_ref()?)?, p.code))).collect();
    let mut sorted = found.clone();
    sorted.sort();
    assert_eq!(
        sorted,
        [
            (1, "V002"),
            (2, "V003"),
            (4, "V101"),
            (5, "V102"),
            (6, "V102"),
            (8, "V101"),
            (9, "V103"),
            (9, "V103"),
            (9, "V103"),
            (10, "V003"),
        ]
    );
    let shown = render_all(&loaded.problems, &loaded.sources, false);
    for near in ["name", "fuel", "diesel", "lamp"] {
        assert_has(&shown, &[&format!("did you mean `{near}`?")]);
    }
    assert_has(
        &shown,
        &["cart.toml:4:1", "a number from 0 up", "an end (front, middle, rear) and a side", "10 errors"],
    );
}

#[test]
fn a_layout_that_cannot_be_is_refused() {
    for (text, says) in [
        ("[traits]\nwheels = 3\n[places]\nside = [\"nearside\"]\n", None),
        ("", Some("V004")),
        ("name = \"empty\"\n", Some("has no places")),
        ("[places]\n", Some("has no places")),
        ("places = 3\n", Some("V003")),
        ("[places]\nlamp = [\"front rear\"]\n", Some("V103")),
        ("[places]\nlamp = [\"nearside offside\"]\n", Some("V103")),
        ("[places]\nlamp = [[\"nearside\"]]\n", Some("V103")),
        (
            "[places]\nlamp = [\"\",\"front\",\"rear\",\"middle\",\"nearside\",\"offside\",\"centre\",\"a\",\"b\",\"c\",\"d\",\"e\",\"f\"]\n",
            Some("more than 12"),
        ),
        ("[traits]\nfuel = [\"diesel\"]\n[places]\nside = [\"nearside\"]\n", Some("V003")),
        ("[traits]\nwheels = -1\n[places]\nside = [\"nearside\"]\n", Some("V102")),
        ("[traits]\nwheels = nan\n[places]\nside = [\"nearside\"]\n", Some("V102")),
        ("[traits]\nwheels = 1e300\n[places]\nside = [\"nearside\"]\n", Some("V102")),
        ("name = \"cart\n", Some("V001")),
    ] {
        let loaded = small_vehicle(text);
        let shown = render_all(&loaded.problems, &loaded.sources, false);
        assert_eq!(loaded.has_errors(), says.is_some(), "{text}\n{shown}");
        if let Some(says) = says {
            assert_has(&shown, &[says, "cart.toml:"]);
        }
    }
    // Deeper than anybody writes: refused, not followed.
    for text in
        [format!("name = {}", "[".repeat(50_000)), format!("{}x = 1", "a.".repeat(50_000)), "a = {".repeat(9_000)]
    {
        let loaded = small_vehicle(&text);
        assert!(loaded.has_errors());
        assert_has(&render_all(&loaded.problems, &loaded.sources, false), &["V001", "cart.toml:"]);
    }
}

#[test]
fn traits_and_layout_of_the_built_in_kinds_must_agree() {
    let text = "\
name = \"odd\"
[traits]
wheels = 3
reversing-lamps = \"both\"
[places]
wheel = [\"front nearside\", \"front offside\", \"rear nearside\", \"rear offside\"]
reversing-lamp = [\"rear nearside\"]
";
    let path = written("odd-vehicle", "odd.toml", text);
    let ran = splitpin(&["--vehicle", &path], b"");
    assert_eq!(ran.exit.code(), 65);
    assert_eq!(ran.out, "");
    assert_has(&ran.err, &["the vehicle file cannot be used", "`wheels` says 3, the layout has 4", "odd.toml:3:10"]);
    assert_has(
        &ran.err,
        &["`reversing-lamps` says both, the layout has no such reversing-lamp", "odd.toml:4:19", "2 errors"],
    );
}

#[test]
fn a_vehicle_file_that_cannot_be_read_ends_with_66_and_says_why() {
    let bytes = written("latin-vehicle", "cart.toml", b"name = \"a\"\nabout = \"\xa3\"\n");
    let large = written("large-vehicle", "cart.toml", vec![b'#'; (1 << 20) + 1]);
    let folder = tempdir("folder-vehicle").display().to_string();
    let cases = [
        ("three-weeler".to_owned(), "Did you mean `three-wheeler`?"),
        ("no/such/file.toml".to_owned(), "Demo vehicles: "),
        (bytes, "line 2 holds bytes that are not UTF-8 text; save the file as UTF-8"),
        (large, "split it"),
        (folder, "cannot be read"),
    ];
    for (name, says) in cases {
        let ran = splitpin(&["--vehicle", &name], b"kazoo\n");
        assert_eq!(ran.exit.code(), 66, "{name}");
        assert_eq!(ran.out, "", "{name}");
        assert_has(&ran.err, &["splitpin: ", &name, says]);
    }
}

#[test]
fn traits_set_on_the_command_line_are_checked() {
    let ran = splitpin(&["--trait", "fuel"], b"");
    assert_eq!(ran.exit.code(), 2);
    assert_has(&ran.err, &["`--trait fuel` should be TRAIT=VALUE"]);
    let ran = splitpin(&["--trait", "feul=diesel"], b"");
    assert_eq!(ran.exit.code(), 65);
    assert_has(&ran.err, &["splitpin: no trait is called `feul`; did you mean `fuel`?"]);
    for (name, value, says) in [
        ("fuel", "steam", "`fuel` is never `steam`; it is one of: diesel, petrol"),
        ("wheels", "three", "`wheels` should be a number from 0 up"),
        ("wheels", "NaN", "`wheels` should be a number from 0 up"),
        ("", "", "no trait is called ``"),
    ] {
        let refused = small_cart().clone().with_trait(name, value, small_book()).expect_err("it is wrong");
        assert_has(&refused, &[says]);
    }
}

#[test]
fn a_finding_that_makes_no_sense_is_refused_and_says_how_it_is_written() {
    for (given, code, says) in [
        ("kazoo-squeaks", 2, "`--given kazoo-squeaks` should be SIGN=yes, SIGN@PLACE=no or SIGN=11.8V"),
        ("kazoo-wobbles@rear=yes", 65, "`kazoo-wobbles` has no place `rear`; its places are: nearside, offside"),
        ("kazoo-volts-low=3", 0, ""),
    ] {
        let ran = splitpin(&["--knowledge", OWN, "trace", "--no-input", "--given", given], b"");
        assert_eq!(i32::from(ran.exit.code()), code, "{given}: {}{}", ran.out, ran.err);
        assert_has(&ran.err, &[says]);
    }
    let mut trace = Trace::new(small_book(), small_cart(), Person::default(), TODAY).expect("the cart fits");
    let number = |text: &str| Given::Number(text.to_owned());
    for (sign, place, given, says) in [
        (
            "kazoo-squeeks",
            None,
            Given::Present(true),
            "no sign is called `kazoo-squeeks`; did you mean `kazoo-squeaks`?",
        ),
        ("kazoo-squeaks", Some("nearside"), Given::Present(true), "has no place: leave out what stands behind the @"),
        ("kazoo-squeaks", None, number("3V"), "is not measured: answer it with yes or no"),
        ("kazoo-volts-low", None, number("300V"), "300 V cannot be: it lies between 0 and 16 V"),
        ("kazoo-volts-low", None, number("3A"), "the answer wanted is in V"),
        ("kazoo-volts-low", None, number("maybe"), "“maybe” is not a number"),
        ("kazoo-volts-low", None, number(""), "is not a number"),
    ] {
        let refused = trace.give(sign, place, &given).expect_err("it makes no sense");
        assert_has(&refused, &[says]);
        assert!(trace.answers().is_empty(), "nothing is taken from it");
    }
}

#[test]
fn a_knowledge_folder_that_is_none_ends_with_66() {
    let empty = tempdir("empty-knowledge");
    fs::write(empty.join("notes.txt"), "not knowledge").expect("a file");
    let file = written("file-knowledge", "a.toml", "");
    for (folder, says) in [
        ("/no/such/folder".to_owned(), "there is no folder /no/such/folder; check the path"),
        (file.clone(), "is not a folder; give the folder that holds the .toml files"),
        (empty.display().to_string(), "holds no .toml file"),
    ] {
        for args in [
            vec!["--knowledge", &folder],
            vec!["knowledge", "check", &folder],
            vec!["knowledge", "check", "--alone", &folder],
        ] {
            let ran = splitpin(&args, b"kazoo\n");
            assert_eq!(ran.exit.code(), 66, "{args:?}");
            assert_has(&ran.err, &["splitpin: ", says]);
            assert_eq!(ran.out, "");
        }
    }
}

#[test]
fn broken_knowledge_is_not_used_and_every_mistake_is_told() {
    let folder = tempdir("broken-knowledge");
    fs::write(folder.join("bytes.toml"), b"# ok\n# \xff\n").expect("a file");
    fs::write(folder.join("deep.toml"), "a.".repeat(30_000) + "x = 1").expect("a file");
    fs::write(folder.join("open.toml"), "[fault.y\n").expect("a file");
    fs::write(folder.join("entry.toml"), "[sign.x]\nname = \"x\"\nsaid = [\"x\"]\nsource = \"hearsay\"\n")
        .expect("a file");
    let folder = folder.display().to_string();
    let all = ["bytes.toml: line 2 holds bytes", "deep.toml:1", "open.toml:1:9", "entry.toml:4:10", "[K001]", "[K101]"];
    let ran = splitpin(&["--knowledge", &folder, "trace", "--no-input", "horn"], b"");
    assert_eq!(ran.exit.code(), 65);
    assert_eq!(ran.out, "");
    assert_has(
        &ran.err,
        &["the knowledge has errors and is not used", "mend them, then try again", "errors, 0 warnings"],
    );
    assert_has(&ran.err, &all);
    let ran = splitpin(&["knowledge", "check", &folder], b"");
    assert_eq!(ran.exit.code(), 1);
    assert_eq!(ran.err, "");
    assert_has(&ran.out, &all);
    assert_has(&ran.out, &["warning[K501]", "laid over the built-in knowledge"]);
}
