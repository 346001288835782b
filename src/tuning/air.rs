//! What the air does to winds: their pitch follows the speed of sound.

use crate::units::{Celsius, Cents};

/// Metres a second at `temperature`, by the form of ISO 9613-1:1993 for dry air at sea level,
/// 343.2 sqrt(T / 293.15 K). Moisture adds up to 0.3 % and is left out.
pub fn speed_of_sound(temperature: Celsius) -> f64 {
    343.2 * (temperature.kelvin() / 293.15).sqrt()
}

/// How far an ideal air column rises from one temperature to another: 600 log2(T2 / T1), as
/// frequency goes with the speed of sound and the tube's own growth is a twentieth of that.
pub fn rise_of_winds(from: Celsius, to: Celsius) -> Cents {
    Cents::of_ratio(speed_of_sound(to), speed_of_sound(from))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn celsius(degrees: f64) -> Celsius {
        Celsius::new(degrees).unwrap()
    }

    #[test]
    fn the_speed_of_sound_agrees_with_the_standard() {
        // ISO 9613-1:1993, formula for the speed of sound, and cents from 20 degrees.
        for (degrees, metres, cents) in [
            (8.0, 336.102, -36.179),
            (12.0, 338.485, -23.951),
            (16.0, 340.850, -11.893),
            (20.0, 343.200, 0.0),
            (24.0, 345.534, 11.731),
            (28.0, 347.851, 23.306),
            (32.0, 350.154, 34.728),
        ] {
            assert!(
                (speed_of_sound(celsius(degrees)) - metres).abs() < 6e-4,
                "{degrees}"
            );
            let rise = rise_of_winds(celsius(20.0), celsius(degrees));
            assert!((rise.get() - cents).abs() < 6e-4, "{degrees}: {rise:?}");
        }
    }

    #[test]
    fn five_degrees_are_fifteen_cents() {
        // Computed for an ideal wind in a room that warms from 17 to 22 degrees.
        let rise = rise_of_winds(celsius(17.0), celsius(22.0));
        assert!((rise.get() - 14.79).abs() < 0.005);
    }

    #[test]
    fn no_room_is_as_hot_or_cold() {
        for degrees in [-10.1, 45.1, f64::NAN, f64::INFINITY] {
            assert!(Celsius::new(degrees).is_err());
        }
    }
}
