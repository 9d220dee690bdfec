//! A workbench on a port of its own, and a client that says exactly what it is told, over TCP.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::thread::JoinHandle;
use std::time::Duration;

use holdline_web::{ServeOptions, Workbench, run_blocking};
use serde_json::Value;

/// A running workbench.
pub struct Bench {
    pub port: u16,
    pub token: String,
    pub dir: tempfile::TempDir,
    stop: Option<tokio::sync::oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

/// What came back.
pub struct Said {
    pub status: u16,
    pub head: String,
    pub body: Vec<u8>,
}

impl Said {
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body)
            .unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&self.body)))
    }

    /// Code of the first fault.
    pub fn code(&self) -> String {
        let json = self.json();
        json["faults"][0]["code"]
            .as_str()
            .unwrap_or_else(|| panic!("no fault: {json}"))
            .to_owned()
    }

    pub fn header(&self, name: &str) -> Option<&str> {
        self.head.lines().find_map(|line| {
            let (key, value) = line.split_once(':')?;
            key.eq_ignore_ascii_case(name).then(|| value.trim())
        })
    }
}

impl Bench {
    pub fn start() -> Bench {
        Bench::start_with(None)
    }

    pub fn start_with(job: Option<PathBuf>) -> Bench {
        let dir = tempfile::tempdir().unwrap();
        let options = ServeOptions {
            port: 0,
            job,
            demo_dir: Some(dir.path().to_owned()),
            ..ServeOptions::default()
        };
        let (tell, hear) = std::sync::mpsc::channel();
        let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
        let thread = std::thread::spawn(move || {
            let served = run_blocking(async move {
                let bench = Workbench::bind(options).await?;
                tell.send((bench.port(), bench.address().to_owned()))
                    .unwrap();
                bench.run(async { stopped.await.unwrap_or(()) }).await
            });
            served.unwrap_or_else(|faults| panic!("{faults}"));
        });
        let (port, address) = hear.recv_timeout(Duration::from_secs(20)).unwrap();
        let (_, token) = address.split_once("#token=").unwrap();
        Bench {
            port,
            token: token.to_owned(),
            dir,
            stop: Some(stop),
            thread: Some(thread),
        }
    }

    /// Sends these very lines as the head of a request, and the body.
    pub fn raw(&self, head: &str, body: &[u8]) -> Said {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream
            .set_read_timeout(Some(Duration::from_secs(60)))
            .unwrap();
        stream.write_all(head.as_bytes()).unwrap();
        // A refused body is not read to its end: the answer is what counts.
        let _ = stream.write_all(body);
        let mut bytes = Vec::new();
        let _ = stream.read_to_end(&mut bytes);
        let end = bytes
            .windows(4)
            .position(|w| w == b"\r\n\r\n")
            .expect("a head");
        let head = String::from_utf8_lossy(&bytes[..end]).into_owned();
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        let mut said = Said {
            status,
            head,
            body: bytes[end + 4..].to_vec(),
        };
        if said.header("transfer-encoding") == Some("chunked") {
            said.body = unchunked(&said.body);
        }
        said
    }

    /// A request with the right host and token, and more headers, a line each.
    pub fn ask_with(&self, method: &str, path: &str, more: &str, body: &[u8]) -> Said {
        let head = format!(
            "{method} {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nAuthorization: Bearer {}\r\nContent-Length: {}\r\nConnection: close\r\n{more}\r\n",
            self.port,
            self.token,
            body.len()
        );
        self.raw(&head, body)
    }

    pub fn get(&self, path: &str) -> Said {
        self.ask_with("GET", path, "", b"")
    }

    pub fn post(&self, path: &str, body: &Value) -> Said {
        let more = "Content-Type: application/json\r\n";
        self.ask_with("POST", path, more, body.to_string().as_bytes())
    }

    #[track_caller]
    pub fn good(&self, said: Said) -> Value {
        assert_eq!(said.status, 200, "{}", String::from_utf8_lossy(&said.body));
        said.json()
    }

    /// Tells the workbench to stop and waits for it.
    pub fn stop(mut self) {
        self.end();
    }

    fn end(&mut self) {
        if let Some(stop) = self.stop.take() {
            let _ = stop.send(());
        }
        if let Some(thread) = self.thread.take() {
            let ended = thread.join();
            if !std::thread::panicking() {
                ended.unwrap();
            }
        }
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        self.end();
    }
}

fn unchunked(mut bytes: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    while let Some(end) = bytes.windows(2).position(|w| w == b"\r\n") {
        let size = std::str::from_utf8(&bytes[..end]).unwrap();
        let size = usize::from_str_radix(size.trim(), 16).unwrap();
        if size == 0 {
            break;
        }
        out.extend_from_slice(&bytes[end + 2..end + 2 + size]);
        bytes = &bytes[end + 2 + size + 2..];
    }
    out
}
