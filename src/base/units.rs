//! Conversions, exact by definition (NIST Handbook 44 (2024), appendix C; from memory).

/// Metres in an international foot.
pub const METRES_PER_FOOT: f64 = 0.3048;
/// Square metres in a hectare.
pub const SQUARE_METRES_PER_HECTARE: f64 = 10_000.0;
/// Square metres in an international acre.
pub const SQUARE_METRES_PER_ACRE: f64 = 43_560.0 * METRES_PER_FOOT * METRES_PER_FOOT;

/// Vines per hectare at these spacings in metres, headlands not counted.
pub fn vines_per_hectare(row_spacing_m: f64, vine_spacing_m: f64) -> f64 {
    SQUARE_METRES_PER_HECTARE / (row_spacing_m * vine_spacing_m)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn densities_match_extension_tables() {
        // UC Cooperative Extension, Lake County: 6 x 8 ft = 908 vines/acre; Carpio & Safley, NC State: 7 x 10 ft = 622.
        let per_acre = |a: f64, b: f64| {
            vines_per_hectare(a * METRES_PER_FOOT, b * METRES_PER_FOOT) * SQUARE_METRES_PER_ACRE
                / SQUARE_METRES_PER_HECTARE
        };
        assert_eq!(per_acre(6.0, 8.0).round(), 908.0);
        assert_eq!(per_acre(7.0, 10.0).round(), 622.0);
    }
}
