//! Why a score cannot be read, in words for musicians. Text of the file is quoted only after it
//! was made harmless.

/// Why a score cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ScoreError {
    /// None of the forms that are known.
    #[error("this is neither MusicXML nor a MIDI file: save the score as .musicxml, .mxl or .mid")]
    Form,
    /// The file is longer than any that is read.
    #[error(
        "the file is larger than {} MB: save it as .mxl, or save each movement as a file of its own",
        super::LARGEST_SCORE / 1_000_000
    )]
    TooLarge,
    /// The text is in an encoding that is not read.
    #[error("the text is written as '{0}', which is not read: export the score in UTF-8")]
    Encoding(String),
    /// The bytes are not what their encoding allows.
    #[error("the text is not in {0} as it says: export the score again in UTF-8")]
    NotText(&'static str),
    /// The XML is broken.
    #[error("line {line}, column {column}: {reason}")]
    Xml {
        /// Line, counted from 1.
        line: usize,
        /// Column in characters, counted from 1.
        column: usize,
        /// What is wrong and what to do.
        reason: String,
    },
    /// The text ends before its elements are closed.
    #[error(
        "the file ends in the middle of the score, in line {0}: copy it or export it once more"
    )]
    Truncated(usize),
    /// It declares abbreviations of its own, which no program that writes scores does.
    #[error(
        "line {0} declares an entity, which no score needs: export it again from a notation program"
    )]
    Entities(usize),
    /// It is built as no score is.
    #[error("line {line} {what}, as no score has: export it again from a notation program")]
    Absurd {
        /// Line, counted from 1.
        line: usize,
        /// In what way.
        what: &'static str,
    },
    /// Bars first, parts within them.
    #[error(
        "this MusicXML is written bar by bar (score-timewise): export it as score-partwise, \
         which is what notation programs write by default"
    )]
    Timewise,
    /// A list of other files.
    #[error("this MusicXML only lists other scores (opus): give the file of one movement instead")]
    Opus,
    /// XML, but no score.
    #[error("this is XML but no score (it begins with '{0}'): export it as MusicXML")]
    OtherXml(String),
    /// The packed score cannot be opened.
    #[error("the packed score (.mxl) is damaged: copy it or export it once more")]
    Packed,
    /// The packed score holds more than one score can.
    #[error(
        "the packed score (.mxl) holds {0} files: export it again with the score and nothing else"
    )]
    Entries(usize),
    /// The packed score does not say which of its files is the score.
    #[error(
        "the packed score (.mxl) does not say which of its files is the score: export it again, \
         or as .musicxml"
    )]
    NoContainer,
    /// The packed score names a file it does not hold.
    #[error(
        "the packed score (.mxl) names '{0}' as its score but holds no such file: export it again, \
         or as .musicxml"
    )]
    NoRoot(String),
    /// The unpacked score is longer than any that is read.
    #[error(
        "unpacked, the score is larger than {} MB: save each movement as a file of its own",
        super::LARGEST_UNPACKED / 1_000_000
    )]
    Unpacked,
    /// There is more of something than is read.
    #[error("the score has more than {limit} {what}: save each movement as a file of its own")]
    TooMany {
        /// What there is too much of.
        what: &'static str,
        /// How much is read.
        limit: usize,
    },
    /// The time of the parts has no common measure that can be counted.
    #[error(
        "the parts divide the quarter note in so many ways that they have no common measure: \
         export the score with one value of 'divisions'"
    )]
    Divisions,
    /// Something in a bar is wrong.
    #[error("bar {bar} of '{part}': {fault}")]
    Bar {
        /// The bar's name.
        bar: String,
        /// The part's name.
        part: String,
        /// What is wrong and what to do.
        fault: BarFault,
    },
    /// There is nothing to plan.
    #[error("no note sounds in this score: choose a file with pitched parts")]
    NoNotes,
    /// The MIDI file is broken.
    #[error("the MIDI file is damaged or cut short ({0}): copy it or export it once more")]
    Midi(&'static str),
    /// Format 2.
    #[error(
        "this MIDI file holds independent patterns (format 2) and no score: export it as format 0 \
         or 1"
    )]
    MidiFormat,
    /// Timing in frames of film.
    #[error(
        "this MIDI file counts frames of film (SMPTE) and no beats: export it with ticks per \
         quarter note"
    )]
    MidiTiming,
    /// A time signature nobody can beat.
    #[error(
        "the MIDI file has a time signature of {beats} beats to 2 to the power of {power}: correct it \
         in the program that wrote the file"
    )]
    MidiMeter {
        /// Above the line.
        beats: u32,
        /// Below the line, as a power of two.
        power: u8,
    },
}

/// What is wrong in a bar.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BarFault {
    /// No pitch that can be written.
    #[error("'{0}' is no pitch: correct the note")]
    Pitch(String),
    /// It lies too high or too low once it is transposed.
    #[error(
        "'{0}' sounds higher or lower than any instrument once it is transposed: correct the note or the transposition of the part"
    )]
    Range(String),
    /// No length of time.
    #[error("'{0}' is no duration: correct the note there")]
    Duration(String),
    /// No number of divisions.
    #[error("'{0}' is no division of a quarter note: export the score again")]
    Divisions(String),
    /// Time before the first division.
    #[error(
        "a duration comes before 'divisions' says what it is counted in: export the score again"
    )]
    NoDivisions,
    /// Far too long.
    #[error("the bar is longer than {0} quarter notes: correct the durations in it")]
    Long(u64),
    /// No metre.
    #[error("'{0}' is no time signature: correct it")]
    Meter(String),
    /// No transposition.
    #[error("'{0}' is no transposition: correct that of the part")]
    Transposition(String),
    /// No key.
    #[error("'{0}' is no key signature: correct it")]
    Signature(String),
}
