//! The normal distribution's quantile: algorithm AS 241 (PPND16) of M. J. Wichura, "The Percentage
//! Points of the Normal Distribution", Applied Statistics 37 (1988) 477–484. About 16 digits.

/// A ratio of two polynomials, coefficients from the constant up.
struct Rational {
    over: [f64; 8],
    under: [f64; 8],
}

impl Rational {
    fn at(&self, r: f64) -> f64 {
        let horner = |c: &[f64; 8]| c.iter().rev().fold(0.0, |sum, c| sum * r + c);
        horner(&self.over) / horner(&self.under)
    }
}

/// For probabilities within 0.425 of one half.
const CENTRE: Rational = Rational {
    over: [
        3.3871328727963665,
        133.14166789178438,
        1971.5909503065513,
        13731.69376550946,
        45921.95393154987,
        67265.7709270087,
        33430.57558358813,
        2509.0809287301227,
    ],
    under: [
        1.0,
        42.31333070160091,
        687.1870074920579,
        5394.196021424751,
        21213.794301586597,
        39307.89580009271,
        28729.085735721943,
        5226.495278852854,
    ],
};

/// For tails down to about 1.4e-11.
const TAIL: Rational = Rational {
    over: [
        1.4234371107496835,
        4.630337846156546,
        5.769497221460691,
        3.6478483247632045,
        1.2704582524523684,
        0.2417807251774506,
        0.022723844989269184,
        0.0007745450142783414,
    ],
    under: [
        1.0,
        2.053191626637759,
        1.6763848301838038,
        0.6897673349851,
        0.14810397642748008,
        0.015198666563616457,
        0.0005475938084995345,
        1.0507500716444169e-9,
    ],
};

/// For tails beyond.
const FAR_TAIL: Rational = Rational {
    over: [
        6.657904643501103,
        5.463784911164114,
        1.7848265399172913,
        0.29656057182850487,
        0.026532189526576124,
        0.0012426609473880784,
        2.7115555687434876e-5,
        2.0103343992922881e-7,
    ],
    under: [
        1.0,
        0.599832206555888,
        0.1369298809227358,
        0.014875361290850615,
        0.0007868691311456133,
        1.8463183175100548e-5,
        1.421511758316446e-7,
        2.0442631033899397e-15,
    ],
};

/// The value a standard normal variable stays below with probability `p`, 0 < p < 1.
pub(super) fn quantile(p: f64) -> f64 {
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        return q * CENTRE.at(0.180625 - q * q);
    }
    let r = (-p.min(1.0 - p).ln()).sqrt();
    let tail = if r <= 5.0 { TAIL.at(r - 1.6) } else { FAR_TAIL.at(r - 5.0) };
    tail.copysign(q)
}

#[cfg(test)]
mod tests {
    use super::quantile;

    /// Source: the first three are the check values printed with AS 241 (from memory); all are
    /// recomputed with Python 3.11 statistics.NormalDist().inv_cdf, another coding of AS 241.
    #[test]
    fn as241_check_values() {
        for (p, z) in [
            (0.25, -0.6744897501960817),
            (0.001, -3.090232306167813),
            (1e-20, -9.262340089798405),
            (0.5, 0.0),
            (0.8, 0.8416212335729144),
            (0.9999, 3.7190164854557084),
            (1e-10, -6.361340902404056),
            (1e-300, -37.0470962993612),
        ] {
            assert!((quantile(p) - z).abs() < 1e-12, "{p}: {} for {z}", quantile(p));
        }
    }

    /// Source: the usual printed table of the normal distribution (from memory).
    #[test]
    fn printed_table() {
        for (p, z) in
            [(0.9, 1.2816), (0.95, 1.6449), (0.975, 1.9600), (0.99, 2.3263), (0.995, 2.5758)]
        {
            assert!((quantile(p) - z).abs() < 5e-5, "{p}");
            assert!((quantile(1.0 - p) + z).abs() < 5e-5, "{p}");
        }
    }
}
