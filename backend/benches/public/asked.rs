//! Readers that ask for one address again and again, each on a connection of its own.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::thread;
use std::time::{Duration, Instant};

/// Readers at once.
const READERS: usize = 4;

/// How many bytes the body of an address has.
pub(crate) fn length(server: SocketAddr, path: &str) -> usize {
    Reader::new(server, path).ask()
}

/// Requests a second that all readers together have answered in so long.
pub(crate) fn requests(server: SocketAddr, path: &str, turn: Duration) -> f64 {
    let read = || {
        let mut reader = Reader::new(server, path);
        let (began, mut answers) = (Instant::now(), 0_u32);
        while began.elapsed() < turn {
            reader.ask();
            answers += 1;
        }
        f64::from(answers) / began.elapsed().as_secs_f64()
    };
    thread::scope(|scope| {
        let readers: Vec<_> = (0..READERS).map(|_| scope.spawn(read)).collect();
        readers.into_iter().map(|reader| reader.join().expect("a reader")).sum()
    })
}

struct Reader {
    stream: TcpStream,
    request: Vec<u8>,
    answer: Vec<u8>,
}

impl Reader {
    fn new(server: SocketAddr, path: &str) -> Self {
        let stream = TcpStream::connect(server).expect("a connection");
        stream.set_nodelay(true).expect("no delay");
        let request = format!("GET {path} HTTP/1.1\r\nHost: {server}\r\nAccept: */*\r\n\r\n").into_bytes();
        Self { stream, request, answer: vec![0; 1 << 20] }
    }

    /// Asks and reads the whole answer; the length of its body.
    fn ask(&mut self) -> usize {
        self.stream.write_all(&self.request).expect("to send");
        let mut read = 0;
        loop {
            let more = self.stream.read(&mut self.answer[read..]).expect("an answer");
            assert!(more > 0, "the server closed the connection");
            read += more;
            let Some(head) = self.answer[..read].windows(4).position(|four| four == b"\r\n\r\n") else {
                continue;
            };
            let text = std::str::from_utf8(&self.answer[..head]).expect("a head").to_ascii_lowercase();
            assert!(text.starts_with("http/1.1 200"), "{text}");
            let body = text.lines().find_map(|line| line.strip_prefix("content-length: "));
            let body: usize = body.expect("a length").trim().parse().expect("a number");
            if read >= head + 4 + body {
                return body;
            }
        }
    }
}
