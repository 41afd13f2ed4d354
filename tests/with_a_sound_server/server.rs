//! A private sound server, and the program listening to it.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::thread;
use std::time::Duration;

use serde_json::Value;
use tempfile::TempDir;

/// Whatever is waited for comes within this, or the test fails.
pub const PATIENCE: Duration = Duration::from_secs(300);
pub const RATE_HZ: u32 = 44_100;

/// A loudspeaker that is the microphone.
const ONE: [&str; 1] = ["module-null-sink sink_name=speaker rate=44100 channels=1 \
    channel_map=mono format=float32le norewinds=1"];
/// A loudspeaker and a guitar that nobody hears but their own microphone, `room` and `pickup`, and one that hears
/// both alike, `middle`; `both`, left and right, move by one clock.
pub const APART: [&str; 6] = [
    "module-null-sink sink_name=both rate=44100 channels=2 channel_map=front-left,front-right \
     format=float32le norewinds=1",
    "module-remap-sink sink_name=guitar master=both channels=1 channel_map=mono \
     master_channel_map=front-right remix=no",
    "module-remap-sink sink_name=speaker master=both channels=1 channel_map=mono \
     master_channel_map=front-left remix=no",
    "module-remap-source source_name=room master=both.monitor channels=1 channel_map=mono \
     master_channel_map=front-left remix=no",
    "module-remap-source source_name=pickup master=both.monitor channels=1 channel_map=mono \
     master_channel_map=front-right remix=no",
    "module-remap-source source_name=middle master=both.monitor channels=1 channel_map=mono \
     remix=yes",
];

/// A private PulseAudio.
pub struct Server {
    pub folder: TempDir,
    /// What it consists of.
    modules: &'static [&'static str],
    pub child: Option<Child>,
}

impl Server {
    /// Its only loudspeaker is its only microphone.
    pub fn start() -> Self {
        Server::with(&ONE)
    }

    pub fn with(modules: &'static [&'static str]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(
            folder.path().join("alsa.conf"),
            "pcm.!default { type pulse }\nctl.!default { type pulse }\n",
        )
        .unwrap();
        let mut server = Server {
            folder,
            modules,
            child: None,
        };
        server.restart();
        server
    }

    pub fn restart(&mut self) {
        let pulse = self.folder.path().join("pulse");
        let _ = std::fs::remove_dir_all(&pulse);
        std::fs::create_dir(&pulse).unwrap();
        let mut command = self.command("pulseaudio");
        command
            .args(["-n", "--daemonize=no", "--use-pid-file=no"])
            .args(["--exit-idle-time=-1", "--log-level=error"])
            .arg("--load=module-native-protocol-unix auth-anonymous=1")
            .args(self.modules.iter().map(|module| format!("--load={module}")))
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        self.child = Some(command.spawn().expect("pulseaudio is installed"));
        for _ in 0..1_000 {
            let asked = self.command("pactl").arg("info").output().unwrap();
            if asked.status.success() {
                return;
            }
            thread::sleep(Duration::from_millis(100));
        }
        panic!("the sound server does not start");
    }

    pub fn kill(&mut self) {
        if let Some(mut child) = self.child.take() {
            child.kill().unwrap();
            child.wait().unwrap();
        }
    }

    pub fn command(&self, program: impl AsRef<std::ffi::OsStr>) -> Command {
        let folder = self.folder.path();
        let socket = folder.join("pulse/native");
        let mut command = Command::new(program);
        command
            .env("XDG_RUNTIME_DIR", folder)
            .env("PULSE_RUNTIME_PATH", folder.join("pulse"))
            .env("HOME", folder)
            .env("PULSE_SERVER", format!("unix:{}", socket.display()))
            .env("ALSA_CONFIG_PATH", folder.join("alsa.conf"))
            .env_remove("RINGTRUE_LOG")
            .stdin(Stdio::null());
        command
    }

    /// `pactl` with these arguments; what it says.
    pub fn control(&self, arguments: &[&str]) -> String {
        let output = self.command("pactl").args(arguments).output().unwrap();
        assert!(output.status.success(), "{arguments:?}");
        String::from_utf8_lossy(&output.stdout).into_owned()
    }

    pub fn play(&self, wav: &Path) {
        let mut command = self.command("paplay");
        let played = command.arg(wav).status().unwrap();
        assert!(played.success());
    }

    pub fn ringtrue(&self, arguments: &[&str]) -> Command {
        let mut command = self.command(env!("CARGO_BIN_EXE_ringtrue"));
        command.args(arguments);
        command
    }

    /// `ringtrue listen --json` with these arguments, once it listens.
    pub fn listen(&self, arguments: &[&str]) -> Listening {
        let mut command = self.ringtrue(&["listen", "--json"]);
        Listening::of(command.args(arguments))
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.kill();
    }
}

pub struct Listening {
    pub child: Child,
    events: Receiver<Value>,
}

impl Listening {
    /// Of this command, once it listens.
    pub fn of(command: &mut Command) -> Self {
        let mut child = command.stdout(Stdio::piped()).spawn().unwrap();
        let (sender, events) = channel();
        let out = BufReader::new(child.stdout.take().unwrap());
        thread::spawn(move || {
            for line in out.lines().map_while(Result::ok) {
                let _ = sender.send(serde_json::from_str(&line).unwrap());
            }
        });
        let mut listening = Listening { child, events };
        listening.wait_for("listening");
        listening
    }

    /// The next event of this kind; others on the way are left out.
    pub fn wait_for(&mut self, event: &str) -> Value {
        let mut passed = Vec::new();
        loop {
            match self.events.recv_timeout(PATIENCE) {
                Ok(value) if value["event"] == event => return value,
                Ok(value) => passed.push(value["event"].clone()),
                Err(_) => panic!("no {event} came, only {passed:?}"),
            }
        }
    }
}

impl Drop for Listening {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

pub fn signal(child: &Child, name: &str) {
    let pid = child.id().to_string();
    assert!(
        Command::new("kill")
            .args([name, &pid])
            .status()
            .unwrap()
            .success()
    );
}
