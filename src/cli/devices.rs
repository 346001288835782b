//! `concento devices`.

use std::io::{self, Write};

use clap::Args;

use super::PlainForm;
use crate::sound::capture::{self, InputDevice, Inputs};

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// How the list is written
    #[arg(long, value_enum, default_value_t = PlainForm::Table)]
    format: PlainForm,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let inputs = capture::inputs()?;
    match arguments.format {
        PlainForm::Table => write_table(&inputs, out)?,
        PlainForm::Json => {
            serde_json::to_writer_pretty(&mut *out, &inputs.usable).map_err(io::Error::from)?;
            writeln!(out)?;
        }
    }
    Ok(())
}

fn write_table(inputs: &Inputs, out: &mut dyn Write) -> io::Result<()> {
    if inputs.usable.is_empty() {
        writeln!(
            out,
            "No input can be listened to: connect a microphone or an audio interface, then list \
             the inputs again."
        )?;
        return Ok(());
    }
    let heading = ["ID", "CHANNELS", "RATE", "FORMAT", "DESCRIPTION"].map(str::to_owned);
    let rows: Vec<[String; 5]> = std::iter::once(heading)
        .chain(inputs.usable.iter().map(row))
        .collect();
    let width = |column: usize| {
        let widths = rows.iter().map(|row| row[column].chars().count());
        widths.max().unwrap_or(0)
    };
    let widths = [width(0), width(1), width(2), width(3)];
    for [id, channels, rate, format, description] in &rows {
        let [w0, w1, w2, w3] = widths;
        writeln!(
            out,
            "{id:<w0$}  {channels:<w1$}  {rate:>w2$}  {format:<w3$}  {description}"
        )?;
    }
    writeln!(
        out,
        "\nGive an id, or a part of it that fits no other, to --input."
    )?;
    match inputs.closed {
        0 => {}
        1 => writeln!(
            out,
            "1 other entry of the sound system cannot be opened now and is not listed."
        )?,
        n => writeln!(
            out,
            "{n} other entries of the sound system cannot be opened now and are not listed."
        )?,
    }
    Ok(())
}

fn row(input: &InputDevice) -> [String; 5] {
    let channels = if input.most_channels > input.channels {
        format!("{} (up to {})", input.channels, input.most_channels)
    } else {
        input.channels.to_string()
    };
    let description = if input.is_default {
        format!("{} (used unless another is named)", input.description)
    } else {
        input.description.clone()
    };
    [
        input.id.clone(),
        channels,
        format!("{} Hz", input.rate_hz),
        input.sample_format.clone(),
        description,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn input(id: &str, channels: usize, is_default: bool) -> InputDevice {
        InputDevice {
            host: "alsa".to_owned(),
            id: id.to_owned(),
            description: "Stage Box".to_owned(),
            channels,
            most_channels: 8,
            rate_hz: 48_000,
            sample_format: "f32".to_owned(),
            is_default,
        }
    }

    #[track_caller]
    fn check(usable: Vec<InputDevice>, closed: usize, expected: &str) {
        let mut out = Vec::new();
        write_table(&Inputs { usable, closed }, &mut out).unwrap();
        assert_eq!(String::from_utf8(out).unwrap(), expected);
    }

    #[test]
    fn the_table_lines_up_and_counts_what_it_leaves_out() {
        check(
            vec![input("alsa:default", 2, true), input("alsa:box", 8, false)],
            3,
            "ID            CHANNELS         RATE  FORMAT  DESCRIPTION\n\
             alsa:default  2 (up to 8)  48000 Hz  f32     Stage Box (used unless another is named)\n\
             alsa:box      8            48000 Hz  f32     Stage Box\n\
             \n\
             Give an id, or a part of it that fits no other, to --input.\n\
             3 other entries of the sound system cannot be opened now and are not listed.\n",
        );
    }

    #[test]
    fn no_input_is_a_sentence() {
        check(
            Vec::new(),
            0,
            "No input can be listened to: connect a microphone or an audio interface, then list \
             the inputs again.\n",
        );
    }
}
