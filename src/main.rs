//! The program: hands arguments, streams and the clock to the surfaces, and turns the ending into an exit code.

use std::io::{self, BufWriter, IsTerminal};
use std::path::PathBuf;
use std::process::ExitCode;

use etcetera::BaseStrategy as _;
use splitpin::surfaces::{Data, Streams, run};

fn main() -> ExitCode {
    start_log();
    let terminal = io::stdin().is_terminal() && io::stdout().is_terminal();
    let no_colour = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|v| v == "dumb");
    let mut streams = Streams {
        input: &mut io::stdin().lock(),
        out: &mut BufWriter::new(io::stdout().lock()),
        err: &mut io::stderr().lock(),
        terminal,
        colour: io::stdout().is_terminal() && !no_colour && !dumb,
        today: jiff::ZonedDateTime::now().date(),
        history: history(),
        data: data(),
    };
    let exit = run(std::env::args_os(), &mut streams);
    ExitCode::from(exit.code())
}

/// Sends what happens inside to standard error, where `--log LEVEL` asks for it.
fn start_log() {
    // Words that are no text are passed over here; the command line proper complains of them.
    let mut args = std::env::args_os()
        .filter_map(|a| a.into_string().ok())
        .skip_while(|a| a != "--log" && !a.starts_with("--log="));
    let level = args.next().and_then(|a| match a.strip_prefix("--log=") {
        Some(level) => Some(level.to_owned()),
        None => args.next(),
    });
    if let Some(level) = level.and_then(|l| l.parse::<tracing::Level>().ok()) {
        tracing_subscriber::fmt().with_max_level(level).with_writer(io::stderr).init();
    }
}

/// Where typed lines are remembered: the state folder of the XDG base directory specification. A relative path there is ignored, as it asks.
fn history() -> Option<PathBuf> {
    let absolute = |name: &str| std::env::var_os(name).map(PathBuf::from).filter(|p| p.is_absolute());
    let state = absolute("XDG_STATE_HOME").or_else(|| absolute("HOME").map(|h| h.join(".local/state")))?;
    Some(state.join("splitpin/history"))
}

/// Where records may stand: the folder of `SPLITPIN_DATA`, or the data folder of the platform.
fn data() -> Data {
    let named = std::env::var_os("SPLITPIN_DATA").filter(|v| !v.is_empty()).map(PathBuf::from);
    let home = etcetera::choose_base_strategy().ok().map(|s| s.data_dir().join("splitpin"));
    Data { named, home }
}
