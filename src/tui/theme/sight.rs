//! Whether the shipped themes can be read, and their two hues told apart, by everybody.

use super::{Basic, Colours, Rgb, Role};
use crate::settings::{self, NamedTheme};

/// What the least contrast of text must be (WCAG 2.2, success criterion 1.4.3, level AA). Rules
/// and wakes would need 3 only (1.4.11); here they are held to the same.
const LEAST: f64 = 4.5;

/// How far both hues must lie from each other, as CIE 1976 colour difference: of 2.3 half of all
/// observers see a difference of patches side by side (Mahy et al. 1994, from memory); ten times
/// that is a choice of ours, for thin strokes on a stand.
const LEAST_DIFFERENCE: f64 = 23.0;

/// The sixteen colours where nobody has set them otherwise: VGA (Linux console; IBM VGA, 1987) and
/// xterm (XTerm-col.ad of its distribution). From memory.
const BASICS: [[Rgb; 16]; 2] = [
    [
        Rgb(0, 0, 0),
        Rgb(170, 0, 0),
        Rgb(0, 170, 0),
        Rgb(170, 85, 0),
        Rgb(0, 0, 170),
        Rgb(170, 0, 170),
        Rgb(0, 170, 170),
        Rgb(170, 170, 170),
        Rgb(85, 85, 85),
        Rgb(255, 85, 85),
        Rgb(85, 255, 85),
        Rgb(255, 255, 85),
        Rgb(85, 85, 255),
        Rgb(255, 85, 255),
        Rgb(85, 255, 255),
        Rgb(255, 255, 255),
    ],
    [
        Rgb(0, 0, 0),
        Rgb(205, 0, 0),
        Rgb(0, 205, 0),
        Rgb(205, 205, 0),
        Rgb(0, 0, 238),
        Rgb(205, 0, 205),
        Rgb(0, 205, 205),
        Rgb(229, 229, 229),
        Rgb(127, 127, 127),
        Rgb(255, 0, 0),
        Rgb(0, 255, 0),
        Rgb(255, 255, 0),
        Rgb(92, 92, 255),
        Rgb(255, 0, 255),
        Rgb(0, 255, 255),
        Rgb(255, 255, 255),
    ],
];

/// How protanopes, deuteranopes and tritanopes see linear sRGB (Machado, Oliveira and Fernandes,
/// IEEE Trans. Visualization and Computer Graphics 15(6), 2009, table 1, severity 1.0; from
/// memory, rows add up to one as they must for grey to stay grey).
const SIGHTS: [(&str, [[f64; 3]; 3]); 3] = [
    (
        "protanopia",
        [
            [0.152_286, 1.052_583, -0.204_868],
            [0.114_503, 0.786_281, 0.099_216],
            [-0.003_882, -0.048_116, 1.051_998],
        ],
    ),
    (
        "deuteranopia",
        [
            [0.367_322, 0.860_646, -0.227_968],
            [0.280_085, 0.672_501, 0.047_413],
            [-0.011_820, 0.042_940, 0.968_881],
        ],
    ),
    (
        "tritanopia",
        [
            [1.255_528, -0.076_749, -0.178_779],
            [-0.078_411, 0.930_809, 0.147_602],
            [0.004_733, 0.691_367, 0.303_900],
        ],
    ),
];

/// Every way a theme is shown: as mixed, as the nearest of 256, and as both usual sets of sixteen.
fn ways(theme: &NamedTheme) -> Vec<(String, [Rgb; Role::ALL.len()])> {
    let Colours::Painted { mixed, basic } = theme.colours else {
        return Vec::new();
    };
    let mut ways = vec![
        (format!("{} mixed", theme.name), mixed),
        (
            format!("{} of 256", theme.name),
            mixed.map(|colour| Rgb::of_256(colour.nearest_of_256())),
        ),
    ];
    for (set, colours) in ["VGA", "xterm"].iter().zip(BASICS) {
        let of = |basic: Basic| colours[basic as usize];
        ways.push((format!("{} of 16 ({set})", theme.name), basic.map(of)));
    }
    ways
}

fn linear(Rgb(red, green, blue): Rgb) -> [f64; 3] {
    [red, green, blue].map(|part| {
        let part = f64::from(part) / 255.0;
        if part <= 0.04045 {
            part / 12.92
        } else {
            ((part + 0.055) / 1.055).powf(2.4)
        }
    })
}

fn times(matrix: [[f64; 3]; 3], vector: [f64; 3]) -> [f64; 3] {
    matrix.map(|row| row.iter().zip(vector).map(|(a, b)| a * b).sum())
}

/// CIE L*a*b* of linear sRGB under its own white (IEC 61966-2-1; CIE 15).
fn lab(linear: [f64; 3]) -> [f64; 3] {
    let xyz = times(
        [
            [0.4124, 0.3576, 0.1805],
            [0.2126, 0.7152, 0.0722],
            [0.0193, 0.1192, 0.9505],
        ],
        linear,
    );
    let f = |t: f64| {
        if t > (6.0_f64 / 29.0).powi(3) {
            t.cbrt()
        } else {
            t / (3.0 * (6.0_f64 / 29.0).powi(2)) + 4.0 / 29.0
        }
    };
    let [x, y, z] = [xyz[0] / 0.9505, xyz[1], xyz[2] / 1.089].map(f);
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

fn difference(one: [f64; 3], two: [f64; 3]) -> f64 {
    let [one, two] = [one, two].map(|linear| lab(linear.map(|part| part.clamp(0.0, 1.0))));
    one.iter()
        .zip(two)
        .map(|(a, b)| (a - b).powi(2))
        .sum::<f64>()
        .sqrt()
}

#[test]
fn everything_can_be_read_on_its_ground() {
    let themes = settings::themes();
    let names: Vec<&str> = themes.iter().map(|theme| theme.name.as_str()).collect();
    assert_eq!(names, ["dark-stage", "daylight", "high-contrast", "mono"]);
    for theme in &themes {
        let least = match theme.name.as_str() {
            // WCAG 2.2, 1.4.6, level AAA.
            "high-contrast" => 7.0,
            _ => LEAST,
        };
        for (way, colours) in ways(theme) {
            let ground = colours[Role::Ground as usize];
            for role in Role::ALL.into_iter().filter(|role| *role != Role::Ground) {
                let contrast = colours[role as usize].contrast(ground);
                assert!(contrast >= least, "{way}: {role:?} {contrast:.2}");
            }
        }
    }
}

#[test]
fn one_theme_is_dark_and_one_is_light() {
    let themes = settings::themes();
    let ground = |name: &str| {
        let theme = themes.iter().find(|theme| theme.name == name).unwrap();
        ways(theme)[0].1[Role::Ground as usize]
    };
    let black = Rgb(0, 0, 0);
    assert!(ground("dark-stage").contrast(black) < 1.3);
    assert!(ground("daylight").contrast(black) > 15.0);
    let mono = themes.iter().find(|theme| theme.name == "mono").unwrap();
    assert_eq!(mono.colours, Colours::None);
}

#[test]
fn both_hues_are_told_apart_by_every_common_sight() {
    for (_, matrix) in SIGHTS {
        for row in matrix {
            assert!((row.iter().sum::<f64>() - 1.0).abs() < 1e-5);
        }
    }
    for theme in settings::themes() {
        for (way, colours) in ways(&theme) {
            let of = |role: Role| linear(colours[role as usize]);
            // The player is bold, too: among sixteen colours that has to do, as their yellow is white
            // to tritanopes.
            let is_mixed = !way.contains("of 16");
            let player = [(Role::Nature, Role::Player), (Role::Tempered, Role::Player)];
            let player = player.into_iter().filter(|_| is_mixed);
            let all = player.chain([(Role::Nature, Role::Tempered)]);
            for (one, two) in all {
                let plain = difference(of(one), of(two));
                assert!(
                    plain >= LEAST_DIFFERENCE,
                    "{way}: {one:?}, {two:?} {plain:.0}"
                );
                for (sight, matrix) in SIGHTS {
                    let seen = difference(times(matrix, of(one)), times(matrix, of(two)));
                    let told = format!("{way}, {sight}: {one:?}, {two:?} {seen:.0}");
                    assert!(seen >= LEAST_DIFFERENCE, "{told}");
                }
            }
        }
    }
}
