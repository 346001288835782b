//! Two lines close together in a band, each dying away in its own time: as two strings that beat.
//!
//! The method is the one of rotational invariance (Roy and Kailath, 1989): among all short
//! stretches of the band's values, two lines span two directions, and how these turn from one
//! value to the next tells both frequencies, however close they are.

use std::f64::consts::TAU;

use rustfft::num_complex::Complex;

type C = Complex<f64>;

/// Values from one row of a stretch to the next: frequencies within 25 Hz are told.
const STRIDE: usize = 2;
/// Rows of a stretch at the most.
const MOST_ROWS: usize = 40;
/// Rounds in which the two directions are found.
const ROUNDS: usize = 40;

/// Two lines.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TwoLines {
    /// Above the centre of the band, the stronger line first.
    pub(super) offsets_hz: [f64; 2],
    /// The weaker line's amplitude for the stronger one's, over the window.
    pub(super) weaker: f64,
    /// What is neither, for the weaker line, as amplitudes.
    pub(super) unexplained: f64,
}

/// The two lines of a window of values `hop_s` apart.
pub(super) fn two_lines(window: &[C], hop_s: f64) -> Option<TwoLines> {
    let rows = MOST_ROWS.min(window.len() / (3 * STRIDE));
    if rows < 6 {
        return None;
    }
    let columns = window.len() - (rows - 1) * STRIDE;
    let covariance = covariance(window, rows, columns);
    let [first, second] = directions(&covariance, rows);
    let poles = poles(&first, &second)?;
    let step = hop_s * STRIDE as f64;
    let offsets = poles.map(|pole| pole.arg() / (TAU * step));
    // A line neither grows nor dies within a twentieth of a second.
    if poles
        .iter()
        .any(|pole| (pole.norm().ln() / step).abs() > 20.0)
    {
        return None;
    }
    let grown = poles.map(|pole| {
        Complex::from_polar(
            pole.norm().powf(1.0 / STRIDE as f64),
            pole.arg() / STRIDE as f64,
        )
    });
    let [a_norm, b_norm, left] = norms(window, grown)?;
    let (offsets_hz, strong, weak) = if a_norm >= b_norm {
        (offsets, a_norm, b_norm)
    } else {
        ([offsets[1], offsets[0]], b_norm, a_norm)
    };
    Some(TwoLines {
        offsets_hz,
        weaker: weak / strong,
        unexplained: left / weak,
    })
}

fn covariance(window: &[C], rows: usize, columns: usize) -> Vec<C> {
    let mut covariance = vec![C::default(); rows * rows];
    for row in 0..rows {
        for column in 0..=row {
            let (a, b) = (&window[row * STRIDE..], &window[column * STRIDE..]);
            let sum: C = a[..columns]
                .iter()
                .zip(&b[..columns])
                .map(|(a, b)| a * b.conj())
                .sum();
            covariance[row * rows + column] = sum;
            covariance[column * rows + row] = sum.conj();
        }
    }
    covariance
}

/// The two directions with the most in them, by turning two of them towards it again and again.
fn directions(covariance: &[C], rows: usize) -> [Vec<C>; 2] {
    let start = |turns: f64| -> Vec<C> {
        (0..rows)
            .map(|n| Complex::from_polar(1.0, turns * n as f64))
            .collect()
    };
    let mut pair = [start(0.11), start(-0.13)];
    for _ in 0..ROUNDS {
        for one in &mut pair {
            *one = covariance
                .chunks(rows)
                .map(|row| row.iter().zip(one.iter()).map(|(a, b)| a * b).sum())
                .collect();
        }
        let [first, second] = &mut pair;
        normalise(first);
        let along: C = first
            .iter()
            .zip(second.iter())
            .map(|(a, b)| a.conj() * b)
            .sum();
        for (value, direction) in second.iter_mut().zip(first.iter()) {
            *value -= along * direction;
        }
        normalise(second);
    }
    pair
}

fn normalise(vector: &mut [C]) {
    let norm = vector.iter().map(C::norm_sqr).sum::<f64>().sqrt();
    if norm > 0.0 {
        for value in vector {
            *value /= norm;
        }
    }
}

/// What a step from row to row multiplies both lines by.
fn poles(first: &[C], second: &[C]) -> Option<[C; 2]> {
    let upper = |vector: &[C]| vector[..vector.len() - 1].to_vec();
    let lower = |vector: &[C]| vector[1..].to_vec();
    let dot = |a: &[C], b: &[C]| -> C { a.iter().zip(b).map(|(a, b)| a.conj() * b).sum() };
    let (u, v) = ([upper(first), upper(second)], [lower(first), lower(second)]);
    let mut gram = [[C::default(); 2]; 2];
    let mut cross = [[C::default(); 2]; 2];
    for i in 0..2 {
        for j in 0..2 {
            gram[i][j] = dot(&u[i], &u[j]);
            cross[i][j] = dot(&u[i], &v[j]);
        }
    }
    let inverse = invert(gram)?;
    let turn = product(inverse, cross);
    // Eigenvalues of two by two.
    let half = (turn[0][0] + turn[1][1]) / 2.0;
    let determinant = turn[0][0] * turn[1][1] - turn[0][1] * turn[1][0];
    let root = (half * half - determinant).sqrt();
    let poles = [half + root, half - root];
    poles
        .iter()
        .all(|pole| pole.norm() > 0.0 && pole.re.is_finite() && pole.im.is_finite())
        .then_some(poles)
}

fn invert(m: [[C; 2]; 2]) -> Option<[[C; 2]; 2]> {
    let determinant = m[0][0] * m[1][1] - m[0][1] * m[1][0];
    (determinant.norm() > 1e-12 * (m[0][0] * m[1][1]).norm()).then(|| {
        [
            [m[1][1] / determinant, -m[0][1] / determinant],
            [-m[1][0] / determinant, m[0][0] / determinant],
        ]
    })
}

fn product(a: [[C; 2]; 2], b: [[C; 2]; 2]) -> [[C; 2]; 2] {
    let mut found = [[C::default(); 2]; 2];
    for i in 0..2 {
        for j in 0..2 {
            found[i][j] = a[i][0] * b[0][j] + a[i][1] * b[1][j];
        }
    }
    found
}

/// Root mean squares over the window of both lines and of what they leave.
fn norms(window: &[C], steps: [C; 2]) -> Option<[f64; 3]> {
    let mut lines = [
        Vec::with_capacity(window.len()),
        Vec::with_capacity(window.len()),
    ];
    for (line, step) in lines.iter_mut().zip(steps) {
        let mut value = C::new(1.0, 0.0);
        for _ in window {
            line.push(value);
            value *= step;
        }
    }
    let dot = |a: &[C], b: &[C]| -> C { a.iter().zip(b).map(|(a, b)| a.conj() * b).sum() };
    let [one, two] = &lines;
    let inverse = invert([
        [dot(one, one), dot(one, two)],
        [dot(two, one), dot(two, two)],
    ])?;
    let right = [dot(one, window), dot(two, window)];
    let gains = [0, 1].map(|i| inverse[i][0] * right[0] + inverse[i][1] * right[1]);
    let left: f64 = window
        .iter()
        .zip(one.iter().zip(two))
        .map(|(value, (one, two))| (value - gains[0] * one - gains[1] * two).norm_sqr())
        .sum();
    let of = |line: &[C], gain: C| gain.norm() * dot(line, line).re.sqrt();
    Some([of(one, gains[0]), of(two, gains[1]), left.sqrt()])
}
