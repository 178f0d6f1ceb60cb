//! A client of the language server: starts the program, speaks the protocol over its standard
//! input and output, and keeps all that the server says.
//!
//! Every message of the server is also written to a file of its own for each session, one JSON
//! object a line, in the folder that `PORISM_TRANSCRIPTS` names (else `transcripts` beside the
//! program). `tests/python/validate.py` holds each against the protocol's types.

use std::collections::{BTreeMap, VecDeque};
use std::fs::{self, File};
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, ExitStatus, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::program::{program, project};

/// How long a message of the server may take before a test fails. Far more than any needs, so
/// that a busy machine fails no test.
const PATIENCE: Duration = Duration::from_secs(120);

/// The day on which sessions take place.
pub const TODAY: &str = "2027-02-15 10:00";

/// How a session starts.
pub struct Start {
    folder: PathBuf,
    params: Value,
    folders: bool,
    delay: Duration,
    refuse: Vec<&'static str>,
    environment: Vec<(&'static str, String)>,
    keeps: bool,
}

impl Start {
    /// A session in a folder, with a client that announces nothing.
    pub fn new(folder: &Path) -> Self {
        Self {
            folder: folder.to_owned(),
            params: json!({ "processId": null, "capabilities": {} }),
            folders: true,
            delay: Duration::ZERO,
            refuse: Vec::new(),
            environment: Vec::new(),
            keeps: true,
        }
    }

    /// What is heard is neither kept nor written down: for measuring with large messages.
    pub fn forgetful(mut self) -> Self {
        self.keeps = false;
        self
    }

    /// The client announces this.
    pub fn capabilities(mut self, capabilities: Value) -> Self {
        self.params["capabilities"] = capabilities;
        self
    }

    /// The client introduces itself as the real one of this name did: see `tests/clients`.
    pub fn client(mut self, name: &str) -> Self {
        let path = project().join("tests/clients").join(format!("{name}.json"));
        let text = fs::read_to_string(path).expect("the client is known");
        self.params = serde_json::from_str(&text).expect("the client's parameters are JSON");
        self.params["processId"] = Value::Null;
        self
    }

    /// The client's process is this one.
    pub fn process(mut self, id: u32) -> Self {
        self.params["processId"] = json!(id);
        self
    }

    /// The client names no folder.
    pub fn without_folder(mut self) -> Self {
        self.folders = false;
        self
    }

    /// The client takes so long to answer a request of the server.
    pub fn slow(mut self, delay: Duration) -> Self {
        self.delay = delay;
        self
    }

    /// The client answers this request of the server with an error.
    pub fn refusing(mut self, method: &'static str) -> Self {
        self.refuse.push(method);
        self
    }

    /// Sets a variable of the server's environment.
    pub fn environment(mut self, name: &'static str, value: &str) -> Self {
        self.environment.push((name, value.to_owned()));
        self
    }

    /// Starts the server; nothing is sent yet.
    pub fn spawn(self) -> Session {
        let mut command = Command::new(program());
        command
            .arg("serve")
            .current_dir(&self.folder)
            .env("PORISM_NOW", TODAY)
            .env_remove("PORISM_LOG")
            .envs(self.environment.iter().map(|(name, value)| (name, value)))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        let mut server = command.spawn().expect("the server starts");
        let (sender, messages) = channel();
        let output = server.stdout.take().expect("the output is piped");
        std::thread::spawn(move || read_messages(BufReader::new(output), &sender));
        let log = Arc::new(Mutex::new(String::new()));
        let errors = server.stderr.take().expect("the errors are piped");
        std::thread::spawn({
            let log = log.clone();
            move || {
                for line in BufReader::new(errors).lines().map_while(Result::ok) {
                    let mut log = log.lock().expect("nobody panics with the log");
                    log.push_str(&line);
                    log.push('\n');
                }
            }
        });
        let input = server.stdin.take().expect("the input is piped");
        let mut params = self.params;
        let uri = uri(&self.folder);
        if self.folders {
            params["rootUri"] = json!(uri);
            params["rootPath"] = json!(self.folder);
            if params.get("workspaceFolders").is_some_and(Value::is_array) {
                params["workspaceFolders"] = json!([{ "uri": uri, "name": "notes" }]);
            }
        }
        Session {
            server,
            input: Arc::new(Mutex::new(Some(input))),
            messages,
            log,
            folder: self.folder,
            params,
            delay: self.delay,
            refuse: self.refuse,
            last_id: 0,
            asked: BTreeMap::new(),
            documents: BTreeMap::new(),
            waiting: VecDeque::new(),
            heard: Vec::new(),
            transcript: self.keeps.then(transcript),
            last_arrival: Instant::now(),
        }
    }

    /// Starts the server and the session.
    pub fn start(self) -> Session {
        let mut session = self.spawn();
        session.initialize();
        session
    }
}

/// A session with the server.
pub struct Session {
    server: Child,
    input: Arc<Mutex<Option<ChildStdin>>>,
    messages: Receiver<(Instant, Value)>,
    log: Arc<Mutex<String>>,
    folder: PathBuf,
    params: Value,
    delay: Duration,
    refuse: Vec<&'static str>,
    last_id: i64,
    /// The requests whose answers are still to come, and their methods.
    asked: BTreeMap<i64, String>,
    /// The documents that are open: version and text.
    documents: BTreeMap<String, (i32, String)>,
    /// Messages that nobody asked for yet.
    waiting: VecDeque<Value>,
    heard: Vec<Value>,
    /// Where what is heard is written down; `None` when nothing is kept.
    transcript: Option<File>,
    last_arrival: Instant,
}

impl Session {
    /// Introduces the client. Returns what the server offers.
    pub fn initialize(&mut self) -> Value {
        let params = self.params.clone();
        let answer = self.request("initialize", params);
        self.notify("initialized", json!({}));
        answer
    }

    /// The URI of a file of the folder.
    pub fn uri(&self, name: &str) -> String {
        if name.contains(':') {
            name.to_owned()
        } else {
            uri(&self.folder.join(name))
        }
    }

    /// Opens a file with this text.
    pub fn open(&mut self, name: &str, text: &str) {
        let uri = self.uri(name);
        let document = json!({ "uri": uri, "languageId": "porism", "version": 1, "text": text });
        self.documents.insert(uri, (1, text.to_owned()));
        self.notify("textDocument/didOpen", json!({ "textDocument": document }));
    }

    /// Replaces the whole text of an open file.
    pub fn replace(&mut self, name: &str, text: &str) {
        self.change(name, json!([{ "text": text }]), text.to_owned());
    }

    /// Replaces some bytes of an open file, on one line of ASCII perhaps: positions are counted
    /// in UTF-16.
    pub fn edit(&mut self, name: &str, range: std::ops::Range<usize>, replacement: &str) {
        let mut text = self.text(name).to_owned();
        let (start, end) = (position(&text, range.start), position(&text, range.end));
        text.replace_range(range, replacement);
        let change = json!([{ "range": { "start": start, "end": end }, "text": replacement }]);
        self.change(name, change, text);
    }

    fn change(&mut self, name: &str, changes: Value, text: String) {
        let uri = self.uri(name);
        let document = self.documents.get_mut(&uri).expect("the document is open");
        document.0 += 1;
        document.1 = text;
        let version = document.0;
        let params = json!({
            "textDocument": { "uri": uri, "version": version },
            "contentChanges": changes,
        });
        self.notify("textDocument/didChange", params);
    }

    /// The text of an open file, as the client has it.
    pub fn text(&self, name: &str) -> &str {
        let uri = self.uri(name);
        &self.documents.get(&uri).expect("the document is open").1
    }

    /// Saves an open file.
    pub fn save(&mut self, name: &str) {
        let (uri, text) = (self.uri(name), self.text(name).to_owned());
        fs::write(self.folder.join(name), &text).expect("the file is written");
        let params = json!({ "textDocument": { "uri": uri }, "text": text });
        self.notify("textDocument/didSave", params);
    }

    /// Closes an open file.
    pub fn close(&mut self, name: &str) {
        let uri = self.uri(name);
        self.documents.remove(&uri);
        self.notify(
            "textDocument/didClose",
            json!({ "textDocument": { "uri": uri } }),
        );
    }

    /// What a request about a file says of it, with `more` added.
    pub fn about(&self, name: &str, more: Value) -> Value {
        let mut params = json!({ "textDocument": { "uri": self.uri(name) } });
        let more = more.as_object().cloned().unwrap_or_default();
        params.as_object_mut().expect("an object").extend(more);
        params
    }

    /// What a request about the place before `needle` in an open file says of it.
    pub fn at(&self, name: &str, needle: &str) -> Value {
        let text = self.text(name);
        let offset = text
            .find(needle)
            .unwrap_or_else(|| panic!("{needle:?} is in the text"));
        self.about(name, json!({ "position": position(text, offset) }))
    }

    /// Sends a request and waits for its result; an error fails the test.
    pub fn request(&mut self, method: &str, params: Value) -> Value {
        match self.try_request(method, params) {
            Ok(result) => result,
            Err(error) => panic!("{method} failed: {error}\n{}", self.log()),
        }
    }

    /// Sends a request and waits for its result or error.
    pub fn try_request(&mut self, method: &str, params: Value) -> Result<Value, Value> {
        let id = self.send_request(method, params);
        self.answer(id)
    }

    /// Sends a request. Its number is for [`Session::answer`].
    pub fn send_request(&mut self, method: &str, params: Value) -> i64 {
        self.last_id += 1;
        let id = self.last_id;
        self.asked.insert(id, method.to_owned());
        let mut message = json!({ "jsonrpc": "2.0", "id": id, "method": method });
        if !params.is_null() {
            message["params"] = params;
        }
        self.send(&message);
        id
    }

    /// Waits for the answer to a request.
    pub fn answer(&mut self, id: i64) -> Result<Value, Value> {
        let mut message = self.wait(&format!("the answer to request {id}"), |message| {
            message.get("method").is_none() && message["id"] == id
        });
        match message.get_mut("error") {
            Some(error) => Err(error.take()),
            None => Ok(message["result"].take()),
        }
    }

    /// Sends a notification.
    pub fn notify(&mut self, method: &str, params: Value) {
        let mut message = json!({ "jsonrpc": "2.0", "method": method });
        if !params.is_null() {
            message["params"] = params;
        }
        self.send(&message);
    }

    /// Sends any message.
    pub fn send(&mut self, message: &Value) {
        send(&self.input, message);
    }

    /// Waits for the diagnostics of the present version of an open file.
    pub fn wait_diagnostics(&mut self, name: &str) -> Vec<Value> {
        let uri = self.uri(name);
        let version = self.documents.get(&uri).expect("the document is open").0;
        self.wait_published(
            name,
            &format!("the diagnostics of version {version}"),
            |params| params["version"] == version,
        )
    }

    /// Waits for diagnostics of a file for which `wanted` holds.
    pub fn wait_published(
        &mut self,
        name: &str,
        what: &str,
        wanted: impl Fn(&Value) -> bool,
    ) -> Vec<Value> {
        let uri = self.uri(name);
        let message = self.wait(&format!("{what} of {uri}"), |message| {
            message["method"] == "textDocument/publishDiagnostics"
                && message["params"]["uri"] == uri
                && wanted(&message["params"])
        });
        message["params"]["diagnostics"]
            .as_array()
            .expect("a list")
            .clone()
    }

    /// Waits for a notification or request of the server and returns its parameters.
    pub fn wait_message(&mut self, method: &str) -> Value {
        self.wait(method, |message| message["method"] == method)["params"].take()
    }

    /// Waits for a message that `wanted` holds for, and answers the server's requests meanwhile.
    pub fn wait(&mut self, what: &str, wanted: impl Fn(&Value) -> bool) -> Value {
        if let Some(at) = self.waiting.iter().position(&wanted) {
            return self.waiting.remove(at).expect("it is there");
        }
        let until = Instant::now() + PATIENCE;
        loop {
            match self
                .messages
                .recv_timeout(until.saturating_duration_since(Instant::now()))
            {
                Ok((arrival, message)) => {
                    self.last_arrival = arrival;
                    self.hear(&message);
                    if wanted(&message) {
                        return message;
                    }
                    self.waiting.push_back(message);
                }
                Err(RecvTimeoutError::Timeout) => {
                    panic!("no {what} after {PATIENCE:?}\n{}", self.log())
                }
                Err(RecvTimeoutError::Disconnected) => {
                    panic!("the server ended before {what}\n{}", self.log())
                }
            }
        }
    }

    /// Takes in a message: keeps it, and answers it if it is a request.
    fn hear(&mut self, message: &Value) {
        let method = match message["method"].as_str() {
            Some(method) => method.to_owned(),
            None => message["id"]
                .as_i64()
                .and_then(|id| self.asked.remove(&id))
                .unwrap_or_default(),
        };
        if let Some(transcript) = &mut self.transcript {
            let line = json!({ "method": method, "message": message });
            writeln!(transcript, "{line}").expect("the transcript is written");
            self.heard.push(message.clone());
        }
        if message.get("method").is_some() && message.get("id").is_some() {
            self.reply(&method, message);
        }
    }

    fn reply(&self, method: &str, request: &Value) {
        let mut reply = json!({ "jsonrpc": "2.0", "id": request["id"] });
        if self.refuse.contains(&method) {
            reply["error"] = json!({ "code": -32803, "message": "the user said no" });
        } else {
            reply["result"] = match method {
                "workspace/applyEdit" => json!({ "applied": true }),
                "window/showDocument" => json!({ "success": true }),
                _ => Value::Null,
            };
        }
        let (input, delay) = (self.input.clone(), self.delay);
        if delay.is_zero() {
            send(&input, &reply);
        } else {
            std::thread::spawn(move || {
                std::thread::sleep(delay);
                send(&input, &reply);
            });
        }
    }

    /// When the last message that was taken in had arrived, before it was read as JSON.
    pub fn last_arrival(&self) -> Instant {
        self.last_arrival
    }

    /// All messages heard so far.
    pub fn heard(&self) -> &[Value] {
        &self.heard
    }

    /// What the server logged so far.
    pub fn log(&self) -> String {
        self.log.lock().expect("nobody panics with the log").clone()
    }

    /// The number of the server's process.
    pub fn process(&self) -> u32 {
        self.server.id()
    }

    /// Closes the server's standard input.
    pub fn close_input(&mut self) {
        self.input
            .lock()
            .expect("nobody panics with the input")
            .take();
    }

    /// Waits for the server's process to end.
    pub fn wait_exit(&mut self) -> ExitStatus {
        let until = Instant::now() + PATIENCE;
        loop {
            // What the server still says must not fill its pipe.
            while let Ok((_, message)) = self.messages.try_recv() {
                self.hear(&message);
                self.waiting.push_back(message);
            }
            if let Some(status) = self
                .server
                .try_wait()
                .expect("the server can be waited for")
            {
                return status;
            }
            assert!(
                Instant::now() < until,
                "the server does not end\n{}",
                self.log()
            );
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// Ends the session as a client should, and fails unless the server ends well and logged
    /// nothing that is amiss.
    pub fn finish(mut self) {
        self.request("shutdown", Value::Null);
        self.notify("exit", Value::Null);
        assert_eq!(self.wait_exit().code(), Some(0), "{}", self.log());
        let log = self.log();
        assert!(!log.contains("ERROR") && !log.contains("panicked"), "{log}");
    }
}

impl Drop for Session {
    fn drop(&mut self) {
        // It may have ended already.
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

/// The URI of a path.
pub fn uri(path: &Path) -> String {
    let mut text = String::from("file://");
    for byte in path.to_str().expect("the path is Unicode").bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte) {
            text.push(char::from(byte));
        } else {
            text.push_str(&format!("%{byte:02X}"));
        }
    }
    text
}

/// The position of a byte, in UTF-16 code units. Lines end with line feeds here.
fn position(text: &str, offset: usize) -> Value {
    let before = &text[..offset];
    let line = before.rsplit('\n').next().unwrap_or_default();
    json!({ "line": before.matches('\n').count(), "character": line.encode_utf16().count() })
}

fn send(input: &Mutex<Option<ChildStdin>>, message: &Value) {
    let body = message.to_string();
    let mut input = input.lock().expect("nobody panics with the input");
    if let Some(input) = input.as_mut() {
        // The server may have ended; whoever waits for it says so.
        let _ = write!(input, "Content-Length: {}\r\n\r\n{body}", body.len());
        let _ = input.flush();
    }
}

/// Reads messages until the stream ends. Anything that is no message fails the test that waits
/// for one, for standard output belongs to the protocol.
fn read_messages(mut output: impl BufRead, messages: &Sender<(Instant, Value)>) {
    loop {
        let mut length = None;
        loop {
            let mut header = String::new();
            match output.read_line(&mut header) {
                Ok(0) | Err(_) => return,
                Ok(_) => {}
            }
            let header = header.trim_end();
            if header.is_empty() {
                break;
            }
            match header.strip_prefix("Content-Length: ") {
                Some(text) => length = text.parse().ok(),
                None => panic!("not a header of the protocol: {header}"),
            }
        }
        let mut body = vec![0; length.expect("the message has a length")];
        if output.read_exact(&mut body).is_err() {
            return;
        }
        let arrival = Instant::now();
        let message = serde_json::from_slice(&body).expect("the message is JSON");
        if messages.send((arrival, message)).is_err() {
            return;
        }
    }
}

/// A fresh file for what a session says.
fn transcript() -> File {
    static SESSIONS: AtomicUsize = AtomicUsize::new(0);
    let beside = || {
        program()
            .parent()
            .expect("the program is in a folder")
            .join("transcripts")
    };
    let folder = std::env::var_os("PORISM_TRANSCRIPTS").map_or_else(beside, PathBuf::from);
    fs::create_dir_all(&folder).expect("the folder of transcripts is there");
    let session = SESSIONS.fetch_add(1, Ordering::SeqCst);
    let thread = std::thread::current();
    let test = thread.name().unwrap_or("session").replace("::", ".");
    let name = format!("{test}.{}.{session}.jsonl", std::process::id());
    File::create(folder.join(name)).expect("the transcript is written")
}
