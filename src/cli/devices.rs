//! `concento devices`.

use std::io::{self, Write};

use clap::Args;

use super::PlainForm;
use super::examples::{Example, examples};
use crate::sound::device::{self, DeviceEntry, Devices, Direction};

const EXAMPLES: &[Example] = &[
    (
        "concento devices",
        "Inputs and outputs, with the names that --input and --output take",
    ),
    ("concento devices --format json", "The same for a script"),
];

#[derive(Debug, Args)]
#[command(after_help = examples(EXAMPLES))]
pub(super) struct Arguments {
    /// How the list is written
    #[arg(long, value_enum, default_value_t = PlainForm::Table)]
    format: PlainForm,
}

pub(super) fn run(arguments: &Arguments, out: &mut dyn Write) -> anyhow::Result<()> {
    let devices = device::devices()?;
    match arguments.format {
        PlainForm::Table => write_tables(&devices, out)?,
        PlainForm::Json => {
            serde_json::to_writer_pretty(&mut *out, &devices.usable).map_err(io::Error::from)?;
            writeln!(out)?;
        }
    }
    Ok(())
}

fn write_tables(devices: &Devices, out: &mut dyn Write) -> io::Result<()> {
    let of = |direction| {
        devices
            .usable
            .iter()
            .filter(move |d| d.direction == direction)
    };
    let (inputs, outputs) = (of(Direction::Input), of(Direction::Output));
    if inputs.clone().next().is_none() {
        writeln!(
            out,
            "No input can be listened to: connect a microphone or an audio interface, then list \
             the devices again."
        )?;
    } else {
        write_table("INPUT", inputs, out)?;
        writeln!(
            out,
            "\nGive an input's id, or a part of it that fits no other, to --input."
        )?;
        write_closed(devices.closed_inputs, out)?;
    }
    writeln!(out)?;
    if outputs.clone().next().is_none() {
        return writeln!(
            out,
            "No output can be played on: connect a loudspeaker or headphones, then list the \
             devices again."
        );
    }
    write_table("OUTPUT", outputs, out)?;
    if devices.closed_outputs > 0 {
        writeln!(out)?;
    }
    write_closed(devices.closed_outputs, out)
}

fn write_table<'a>(
    heading: &str,
    devices: impl Iterator<Item = &'a DeviceEntry>,
    out: &mut dyn Write,
) -> io::Result<()> {
    let heading = [heading, "CHANNELS", "RATE", "FORMAT", "DESCRIPTION"].map(str::to_owned);
    let rows: Vec<[String; 5]> = std::iter::once(heading).chain(devices.map(row)).collect();
    let width = |column: usize| {
        let widths = rows.iter().map(|row| row[column].chars().count());
        widths.max().unwrap_or(0)
    };
    let [w0, w1, w2, w3] = [width(0), width(1), width(2), width(3)];
    for [id, channels, rate, format, description] in &rows {
        writeln!(
            out,
            "{id:<w0$}  {channels:<w1$}  {rate:>w2$}  {format:<w3$}  {description}"
        )?;
    }
    Ok(())
}

fn write_closed(closed: usize, out: &mut dyn Write) -> io::Result<()> {
    match closed {
        0 => Ok(()),
        1 => writeln!(
            out,
            "1 other entry of the sound system cannot be opened now and is not listed."
        ),
        n => writeln!(
            out,
            "{n} other entries of the sound system cannot be opened now and are not listed."
        ),
    }
}

fn row(device: &DeviceEntry) -> [String; 5] {
    let channels = if device.most_channels > device.channels {
        format!("{} (up to {})", device.channels, device.most_channels)
    } else {
        device.channels.to_string()
    };
    let description = if device.is_default {
        format!("{} (used unless another is named)", device.description)
    } else {
        device.description.clone()
    };
    [
        device.id.clone(),
        channels,
        format!("{} Hz", device.rate_hz),
        device.sample_format.clone(),
        description,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(direction: Direction, id: &str, channels: usize, is_default: bool) -> DeviceEntry {
        DeviceEntry {
            direction,
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
    fn check(devices: &Devices, expected: &str) {
        let mut out = Vec::new();
        write_tables(devices, &mut out).unwrap();
        assert_eq!(String::from_utf8(out).unwrap(), expected);
    }

    #[test]
    fn the_tables_line_up_and_count_what_they_leave_out() {
        check(
            &Devices {
                usable: vec![
                    entry(Direction::Input, "alsa:default", 2, true),
                    entry(Direction::Input, "alsa:box", 8, false),
                    entry(Direction::Output, "alsa:default", 2, true),
                ],
                closed_inputs: 3,
                closed_outputs: 1,
            },
            "INPUT         CHANNELS         RATE  FORMAT  DESCRIPTION\n\
             alsa:default  2 (up to 8)  48000 Hz  f32     Stage Box (used unless another is named)\n\
             alsa:box      8            48000 Hz  f32     Stage Box\n\
             \n\
             Give an input's id, or a part of it that fits no other, to --input.\n\
             3 other entries of the sound system cannot be opened now and are not listed.\n\
             \n\
             OUTPUT        CHANNELS         RATE  FORMAT  DESCRIPTION\n\
             alsa:default  2 (up to 8)  48000 Hz  f32     Stage Box (used unless another is named)\n\
             \n\
             1 other entry of the sound system cannot be opened now and is not listed.\n",
        );
    }

    #[test]
    fn no_device_is_a_sentence() {
        check(
            &Devices::default(),
            "No input can be listened to: connect a microphone or an audio interface, then list \
             the devices again.\n\
             \n\
             No output can be played on: connect a loudspeaker or headphones, then list the \
             devices again.\n",
        );
    }

    #[test]
    fn scripts_find_the_direction_beside_what_they_knew() {
        let json = serde_json::to_value(entry(Direction::Output, "alsa:box", 8, false)).unwrap();
        assert_eq!(json["direction"], "output");
        assert_eq!(json["id"], "alsa:box");
    }
}
