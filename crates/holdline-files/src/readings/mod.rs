//! Readings in, answers out: the stream behind `holdline tooth`.
//!
//! Any source of CSV text is read block by block, its columns found by name and unit in the header.
//! Its rows are handed as columns of numbers to a function of the caller's, and the answers written
//! as CSV or JSON lines in the order of the input.
//! Memory stays the same however long the stream is.
//!
//! - Columns: named `boom_deg`, `easting_m` and so on; [`wants::STANDARD`], [`wants::UNITS`].
//!   A needed one that is missing and one that comes twice are refused; others are listed once and
//!   passed over.
//! - Separator: comma, semicolon or tab, whichever the header uses. Decimal point only.
//! - A row that cannot be used is never dropped in silence: it is counted by reason, told with its
//!   line if among the first, and written to the side file.
//! - A last line without a line end counts as cut short and is not used.
//! - Lines that are empty are no rows. Lines before the header that begin with `#` are passed over.
//!
//! ```text
//! line,time_s,easting_m,northing_m,elevation_m
//! 2,0.00,5109.5424,2080.4685,24.6904
//! ```

pub mod answers;
pub mod explain;
pub mod fixed;
pub mod fuzz;
pub mod header;
pub mod reason;
mod rows;
mod source;
mod stream;
#[cfg(test)]
mod tests;
pub mod wants;

use std::io::{Read, Write};
use std::sync::atomic::AtomicBool;

use holdline_geom::fault::{Fault, Faults};

use answers::{AnswerColumn, Answers, Format, Readings};
use header::{Header, read_header};
use reason::Tally;
use source::Source;
use wants::Want;

/// Bytes of a block: small enough to stay in a core's own cache from text to text.
const BLOCK_BYTES: usize = 256 << 10;

/// What is asked of a stream.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// Name of the input, for messages.
    pub file: String,
    /// Columns copied to the output as they stand, where there is one; [`wants::CARRIED`].
    pub carried: Vec<String>,
    /// Format of the output.
    pub format: Format,
    /// Workers beside the calling thread.
    pub n_threads: usize,
    /// Bytes of a block, about.
    pub block_bytes: usize,
}

impl Options {
    /// CSV out, a worker for each of two cores.
    pub fn new(file: &str) -> Options {
        Options {
            file: file.to_owned(),
            carried: wants::CARRIED
                .iter()
                .map(|name| (*name).to_owned())
                .collect(),
            format: Format::Csv,
            n_threads: 2,
            block_bytes: BLOCK_BYTES,
        }
    }
}

/// Where everything goes, and who may stop it.
pub struct Sinks<'a> {
    /// Answers.
    pub out: &'a mut dyn Write,
    /// Rows that cannot be used.
    pub side: Option<&'a mut dyn Write>,
    /// Told after each block.
    pub progress: &'a mut dyn FnMut(Progress),
    /// Set to stop after the blocks in hand.
    pub cancel: &'a AtomicBool,
}

/// How far a stream has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// Bytes of the input done.
    pub n_bytes: u64,
    /// Rows answered.
    pub n_good: u64,
    /// Rows that cannot be used.
    pub n_bad: u64,
}

/// How a stream came to its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// The input was read to its end.
    AtTheEnd,
    /// Whoever read the output has gone; nothing is wrong.
    NobodyReads,
    /// Somebody set the flag.
    Cancelled,
}

/// What came of a stream.
#[derive(Debug, Clone, PartialEq)]
pub struct Summary {
    /// Rows answered.
    pub n_good: u64,
    /// Rows that cannot be used, by reason, and the first of them.
    pub tally: Tally,
    /// Lines read, the header's among them.
    pub n_lines: u64,
    /// Bytes read.
    pub n_bytes: u64,
    /// Columns that nobody asked for.
    pub not_used: Vec<String>,
    /// How it ended.
    pub ended: Ended,
}

impl Summary {
    fn new<R: Read>(header: &Header, after_header: &Source<R>) -> Summary {
        Summary {
            n_good: 0,
            tally: Tally::default(),
            n_lines: after_header.n_lines(),
            n_bytes: after_header.n_bytes(),
            not_used: header.not_used.clone(),
            ended: Ended::AtTheEnd,
        }
    }

    /// The fault that there was no row to answer, if so.
    pub fn nothing_answered(&self, file: &str) -> Option<Fault> {
        let to_the_end = self.ended == Ended::AtTheEnd;
        (to_the_end && self.n_good == 0).then(|| {
            Fault::new(
                "T607",
                file,
                format!("{} rows, none of which can be used", self.tally.n_bad()),
                "at least one row that can be used",
                "look at the first faults above; where all rows fail alike, the header is at fault",
            )
        })
    }
}

/// A stream whose header has been read and understood.
#[derive(Debug)]
pub struct OpenStream<R> {
    source: Source<R>,
    header: Header,
}

impl<R: Read + Send> OpenStream<R> {
    /// Reads the header of a stream and finds the columns that are asked for.
    ///
    /// # Errors
    ///
    /// See [`read_header`]; `T608` if the source cannot be read.
    pub fn open(input: R, wants: &[Want], options: &Options) -> Result<OpenStream<R>, Faults> {
        let mut source = Source::new(input);
        let (line, number) = first_line(&mut source, &options.file)?;
        let header = read_header(&options.file, &line, number, wants, &options.carried)?;
        Ok(OpenStream { source, header })
    }

    /// Whether there is a column for the want at this place in the list.
    pub fn has(&self, want_idx: usize) -> bool {
        self.header
            .column_of
            .get(want_idx)
            .is_some_and(Option::is_some)
    }

    /// The header.
    pub fn header(&self) -> &Header {
        &self.header
    }

    /// Answers the rows.
    ///
    /// `answer` gets the readings of a block of rows and fills in the answers. It is called from
    /// several threads, for blocks in any order, and must not depend on which rows stand together.
    ///
    /// # Errors
    ///
    /// `T608` the source cannot be read on, `T609` an output cannot be written,
    /// `T610` a line does not end, or the fault that `answer` gave.
    pub fn write_answers<F>(
        self,
        answers: &[AnswerColumn],
        options: &Options,
        sinks: &mut Sinks<'_>,
        answer: &F,
    ) -> Result<Summary, Fault>
    where
        F: Fn(&Readings<'_>, &mut Answers) -> Result<(), Fault> + Sync,
    {
        stream::run(self.source, &self.header, answers, options, sinks, answer)
    }
}

/// Opens a stream and answers its rows, where the answers do not depend on the header.
///
/// # Errors
///
/// Those of [`OpenStream::open`] and [`OpenStream::write_answers`].
pub fn write_answers<R, F>(
    input: R,
    wants: &[Want],
    answers: &[AnswerColumn],
    options: &Options,
    sinks: &mut Sinks<'_>,
    answer: &F,
) -> Result<Summary, Faults>
where
    R: Read + Send,
    F: Fn(&Readings<'_>, &mut Answers) -> Result<(), Fault> + Sync,
{
    let stream = OpenStream::open(input, wants, options)?;
    Ok(stream.write_answers(answers, options, sinks, answer)?)
}

/// The header line: the first that is neither empty nor a remark.
fn first_line<R: Read>(source: &mut Source<R>, file: &str) -> Result<(Vec<u8>, u64), Faults> {
    while let Some((line, number)) = source.read_line()? {
        let text = line
            .strip_prefix(b"\xEF\xBB\xBF")
            .unwrap_or(&line)
            .trim_ascii();
        if !text.is_empty() && !text.starts_with(b"#") {
            return Ok((line, number));
        }
    }
    // says that the file is empty, in the words used for every file
    crate::text::text_of(file, b"")?;
    Err(Faults::none())
}
