//! Bytes of a file or pipe into blocks of whole lines, in bounded memory.
//!
//! A block is handed on when it is full, or as soon as the source pauses with a whole line in hand,
//! so a live stream is not held up and a file comes in large blocks.

use std::io::{ErrorKind, Read};

use holdline_geom::fault::Fault;

/// Longest line that is taken for a row, bytes, without its line end.
pub const LINE_AT_MOST: usize = 64 << 10;
/// A line that goes on beyond this ends the reading: it is no file of readings.
pub const LINE_GIVES_UP: u64 = 16 << 20;
/// What is kept of a line that is too long, to be shown.
const KEPT_OF_LONG_LINE: usize = 1024;
/// Largest header.
const HEADER_AT_MOST: usize = LINE_AT_MOST;

/// A block of whole lines.
#[derive(Debug, Default)]
pub struct Lines {
    /// Room for the bytes; the lines are the first `len` of them.
    pub room: Vec<u8>,
    /// Bytes that belong to the block.
    pub len: usize,
    /// Place of the block in the stream, from 0.
    pub sequence: u64,
    /// Line of the file on which it starts, from 1.
    pub first_line: u64,
    /// How many lines, whole or not.
    pub n_lines: usize,
    /// What is odd about it.
    pub oddity: Oddity,
    /// Bytes of the file up to the end of this block.
    pub n_bytes_so_far: u64,
    /// The source paused after it.
    pub paused: bool,
}

/// What is odd about a block.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Oddity {
    /// Nothing: whole lines.
    #[default]
    None,
    /// It is the start of one line that is too long to be a row.
    LongLine,
    /// Its last line has no line end.
    NoLineEnd,
}

impl Lines {
    /// The bytes.
    pub fn bytes(&self) -> &[u8] {
        &self.room[..self.len]
    }
}

/// A stream of bytes and what was read beyond the last block.
#[derive(Debug)]
pub struct Source<R> {
    input: R,
    beyond: Vec<u8>,
    ended: bool,
    next_line: u64,
    next_sequence: u64,
    n_bytes: u64,
}

impl<R: Read> Source<R> {
    /// From the start.
    pub fn new(input: R) -> Source<R> {
        Source {
            input,
            beyond: Vec::new(),
            ended: false,
            next_line: 1,
            next_sequence: 0,
            n_bytes: 0,
        }
    }

    /// Lines handed on so far.
    pub fn n_lines(&self) -> u64 {
        self.next_line - 1
    }

    /// Bytes handed on so far.
    pub fn n_bytes(&self) -> u64 {
        self.n_bytes
    }

    /// The next line on its own, without its line end, and its number; none at the end of the file.
    ///
    /// # Errors
    ///
    /// `T606` if it is longer than any header, `T608` if the source cannot be read.
    pub fn read_line(&mut self) -> Result<Option<(Vec<u8>, u64)>, Fault> {
        let mut piece = vec![0; 4096];
        loop {
            let end = memchr::memchr(b'\n', &self.beyond);
            let too_long = HEADER_AT_MOST < end.unwrap_or(self.beyond.len());
            if too_long {
                return Err(header_too_long(self.beyond.len()));
            }
            let len = match end {
                Some(at) => at + 1,
                None if self.ended && self.beyond.is_empty() => return Ok(None),
                None if self.ended => self.beyond.len(),
                None => {
                    let n = self.read_some(&mut piece)?;
                    self.beyond.extend_from_slice(&piece[..n]);
                    continue;
                }
            };
            let mut line: Vec<u8> = self.beyond.drain(..len).collect();
            line.truncate(without_end(&line).len());
            let number = self.next_line;
            self.next_line += 1;
            self.n_bytes += len as u64;
            return Ok(Some((line, number)));
        }
    }

    /// Fills `block` with the next whole lines, about `block_bytes` of them;
    /// false at the end of the file.
    ///
    /// # Errors
    ///
    /// `T608` if the source cannot be read, `T610` if a line does not end.
    pub fn fill(&mut self, block: &mut Lines, block_bytes: usize) -> Result<bool, Fault> {
        let room = block_bytes.max(LINE_AT_MOST + 2).max(self.beyond.len());
        if block.room.len() < room {
            block.room.resize(room, 0);
        }
        let mut filled = self.beyond.len();
        block.room[..filled].copy_from_slice(&self.beyond);
        self.beyond.clear();
        block.oddity = Oddity::None;
        block.paused = false;

        // the last line end in hand; the lines before it are whole
        let mut whole = memchr::memrchr(b'\n', &block.room[..filled]).map(|at| at + 1);
        loop {
            if filled == room || self.ended {
                break;
            }
            let wanted = room - filled;
            let n = self.read_some(&mut block.room[filled..room])?;
            let fresh = &block.room[filled..filled + n];
            if let Some(at) = memchr::memrchr(b'\n', fresh) {
                whole = Some(filled + at + 1);
            }
            filled += n;
            if n < wanted && whole.is_some() {
                block.paused = true;
                break;
            }
            if whole.is_none() && LINE_AT_MOST + 2 <= filled {
                break;
            }
        }
        self.close(block, filled, whole)
    }

    /// Decides what of `filled` bytes makes the block, and keeps the rest for the next.
    fn close(
        &mut self,
        block: &mut Lines,
        filled: usize,
        whole: Option<usize>,
    ) -> Result<bool, Fault> {
        let mut skipped = 0;
        block.len = match whole {
            Some(end) => {
                self.beyond.extend_from_slice(&block.room[end..filled]);
                end
            }
            None if LINE_AT_MOST + 2 <= filled => {
                block.oddity = Oddity::LongLine;
                skipped =
                    self.skip_to_line_end(&mut block.room, filled)? - KEPT_OF_LONG_LINE as u64;
                KEPT_OF_LONG_LINE
            }
            None if filled == 0 => return Ok(false),
            None => {
                block.oddity = Oddity::NoLineEnd;
                filled
            }
        };
        block.n_lines = match block.oddity {
            Oddity::None => memchr::memchr_iter(b'\n', block.bytes()).count(),
            Oddity::LongLine | Oddity::NoLineEnd => 1,
        };
        block.first_line = self.next_line;
        block.sequence = self.next_sequence;
        self.next_line += block.n_lines as u64;
        self.next_sequence += 1;
        self.n_bytes += block.len as u64 + skipped;
        block.n_bytes_so_far = self.n_bytes;
        Ok(true)
    }

    /// Reads on to the end of a line of which `filled` bytes are in `room`; gives the line's bytes.
    /// Only the start of `room` is left as it was.
    fn skip_to_line_end(&mut self, room: &mut [u8], filled: usize) -> Result<u64, Fault> {
        let mut n_line = filled as u64;
        while !self.ended {
            let scratch = &mut room[KEPT_OF_LONG_LINE..];
            let n = self.read_some(scratch)?;
            if let Some(at) = memchr::memchr(b'\n', &room[KEPT_OF_LONG_LINE..][..n]) {
                let rest = &room[KEPT_OF_LONG_LINE..][at + 1..n];
                self.beyond.extend_from_slice(rest);
                return Ok(n_line + at as u64 + 1);
            }
            n_line += n as u64;
            let goes_on = LINE_GIVES_UP < n_line;
            if goes_on {
                return Err(line_goes_on(self.next_line, n_line));
            }
        }
        Ok(n_line)
    }

    fn read_some(&mut self, into: &mut [u8]) -> Result<usize, Fault> {
        loop {
            match self.input.read(into) {
                Ok(0) => {
                    self.ended = true;
                    return Ok(0);
                }
                Ok(n) => return Ok(n.min(into.len())),
                Err(e) if e.kind() == ErrorKind::Interrupted => {}
                Err(e) => return Err(cannot_read(self.n_bytes, &e)),
            }
        }
    }
}

/// A line without `\n` or `\r\n` at its end.
pub fn without_end(line: &[u8]) -> &[u8] {
    let line = line.strip_suffix(b"\n").unwrap_or(line);
    line.strip_suffix(b"\r").unwrap_or(line)
}

fn header_too_long(n_bytes: usize) -> Fault {
    Fault::new(
        "T606",
        "header",
        format!("no line end within the first {n_bytes} bytes"),
        format!("a header of {HEADER_AT_MOST} bytes at most, then a line a row"),
        "pick the right file; this is no file of readings, or its line ends were lost",
    )
}

fn line_goes_on(line: u64, n_bytes: u64) -> Fault {
    Fault::new(
        "T610",
        format!("line {line}"),
        format!("a line of more than {n_bytes} bytes"),
        format!("rows of up to {LINE_AT_MOST} bytes"),
        "pick the right file; this is no file of readings, or it was damaged from this line on",
    )
}

fn cannot_read(n_bytes: u64, error: &std::io::Error) -> Fault {
    Fault::new(
        "T608",
        "",
        format!("the readings stop after {n_bytes} bytes: {error}"),
        "a file or stream that can be read to its end",
        "see whether the disk or the connection is there, then start again",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Gives `step` bytes at a time.
    struct Drip<'a>(&'a [u8], usize);

    impl Read for Drip<'_> {
        fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
            let n = self.1.min(self.0.len()).min(into.len());
            into[..n].copy_from_slice(&self.0[..n]);
            self.0 = &self.0[n..];
            Ok(n)
        }
    }

    /// Lines with their numbers, whatever the blocks were.
    fn lines_of(input: impl Read, block_bytes: usize) -> Vec<(u64, String, Oddity)> {
        let mut source = Source::new(input);
        let mut block = Lines::default();
        let mut all = Vec::new();
        let mut sequence = 0;
        while source.fill(&mut block, block_bytes).expect("can be read") {
            assert_eq!(block.sequence, sequence);
            sequence += 1;
            let lines = block.bytes().split_inclusive(|b| *b == b'\n');
            let mut n = 0;
            for (idx, line) in lines.enumerate() {
                n += 1;
                let text = String::from_utf8_lossy(without_end(line)).into_owned();
                all.push((block.first_line + idx as u64, text, block.oddity));
            }
            assert_eq!(n, block.n_lines);
        }
        all
    }

    #[test]
    fn the_same_lines_wherever_the_source_pauses() {
        let text = "a,b\r\n\r\n1,2\n\n3,4\r\nlast";
        let want = lines_of(text.as_bytes(), 0);
        assert_eq!(want.len(), 6);
        assert_eq!(want[5], (6, "last".to_owned(), Oddity::NoLineEnd));
        for step in 1..=text.len() {
            assert_eq!(lines_of(Drip(text.as_bytes(), step), 0), want);
        }
    }

    #[test]
    fn a_line_too_long_is_one_line_and_the_next_are_whole() {
        let long = "x".repeat(LINE_AT_MOST + 100);
        let just = "y".repeat(LINE_AT_MOST);
        let text = format!("1\n{long}\n2\r\n{just}\r\n3\n");
        for step in [1000, 4096, 65_536, 65_538, 1 << 20] {
            let lines = lines_of(Drip(text.as_bytes(), step), 0);
            let told: Vec<(u64, usize, bool)> = lines
                .iter()
                .map(|(n, text, odd)| (*n, text.len(), *odd == Oddity::LongLine))
                .filter(|(_, len, odd)| !odd || *len == KEPT_OF_LONG_LINE)
                .collect();
            let long_len = lines[1].1.len();
            assert!(
                long_len == KEPT_OF_LONG_LINE || LINE_AT_MOST < long_len,
                "{long_len}"
            );
            assert_eq!(lines.len(), 5, "{step}: {told:?}");
            assert_eq!((lines[2].0, lines[2].1.as_str()), (3, "2"));
            assert_eq!((lines[3].0, lines[3].1.len()), (4, LINE_AT_MOST));
            assert_eq!((lines[4].0, lines[4].1.as_str()), (5, "3"));
        }
    }

    #[test]
    fn a_line_without_end_is_given_up() {
        let mut source = Source::new(std::io::repeat(b'7'));
        let mut block = Lines::default();
        let fault = source.fill(&mut block, 0).unwrap_err();
        assert_eq!(fault.code, "T610");
        assert!(block.room.len() < 1 << 20);
        let fault = Source::new(std::io::repeat(b'7')).read_line().unwrap_err();
        assert_eq!(fault.code, "T606");
    }

    #[test]
    fn a_source_that_fails_is_said() {
        struct Broken;
        impl Read for Broken {
            fn read(&mut self, _: &mut [u8]) -> std::io::Result<usize> {
                Err(std::io::Error::other("cable pulled"))
            }
        }
        let fault = Source::new(Broken).read_line().unwrap_err();
        assert_eq!(fault.code, "T608");
        assert!(fault.got.contains("cable pulled"), "{fault}");
    }

    #[test]
    fn header_then_blocks() {
        let mut source = Source::new(Drip(b"head\r\n1\n2\n", 3));
        assert_eq!(source.read_line(), Ok(Some((b"head".to_vec(), 1))));
        let mut block = Lines::default();
        assert_eq!(source.fill(&mut block, 0), Ok(true));
        assert_eq!(block.first_line, 2);
    }
}
