//! The colours: Okabe & Ito's set for lines and signs, which the colour-blind can tell apart, and four greys.
//!
//! Source: Okabe M., Ito K. (2008) Color Universal Design. Yellow is left out: it fails as a thin line on white.

use plotters::style::RGBColor;

/// A colour by its role.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Text and axes.
    Text,
    /// Lesser text.
    Quiet,
    /// Grid lines.
    Rule,
    Blue,
    Vermillion,
    Green,
    Orange,
    Purple,
    Sky,
}

/// For series that have to be told apart, in order of use.
pub const SERIES: [Ink; 7] = [Ink::Blue, Ink::Vermillion, Ink::Green, Ink::Purple, Ink::Orange, Ink::Sky, Ink::Text];

const ALL: [Ink; 9] =
    [Ink::Text, Ink::Quiet, Ink::Rule, Ink::Blue, Ink::Vermillion, Ink::Green, Ink::Orange, Ink::Purple, Ink::Sky];

/// Dashes by number; the first is solid.
pub const DASHES: [&str; 5] = ["", "60 35", "15 30", "90 30 15 30", "25 20"];

impl Ink {
    /// On white, where no page swaps it.
    pub fn hex(self) -> &'static str {
        match self {
            Ink::Text => "#23261f",
            Ink::Quiet => "#5d6156",
            Ink::Rule => "#d9d8d0",
            Ink::Blue => "#0072b2",
            Ink::Vermillion => "#d55e00",
            Ink::Green => "#009e73",
            Ink::Orange => "#e69f00",
            Ink::Purple => "#cc79a7",
            Ink::Sky => "#56b4e9",
        }
    }

    /// Name in the page's style sheet: `.f-name` fills, `.s-name` strokes.
    pub fn name(self) -> &'static str {
        match self {
            Ink::Text => "text",
            Ink::Quiet => "quiet",
            Ink::Rule => "rule",
            Ink::Blue => "blue",
            Ink::Vermillion => "vermillion",
            Ink::Green => "green",
            Ink::Orange => "orange",
            Ink::Purple => "purple",
            Ink::Sky => "sky",
        }
    }

    /// Attributes that fill with it.
    pub fn fill(self) -> String {
        format!("fill=\"{}\" class=\"f-{}\"", self.hex(), self.name())
    }

    /// Attributes that stroke with it.
    pub fn stroke(self) -> String {
        format!("fill=\"none\" stroke=\"{}\" class=\"s-{}\"", self.hex(), self.name())
    }

    /// A stand-in colour through which plotters, which knows neither classes nor dashes, carries both.
    pub(super) fn carried(self, dash: usize) -> RGBColor {
        let ink = ALL.iter().position(|i| *i == self).unwrap_or(0) as u8;
        RGBColor(1, 1 + (dash % DASHES.len()) as u8, 1 + ink)
    }
}

/// Swaps the stand-in colours of a drawing for real ones, with class and dash.
pub(super) fn settle(drawing: &str) -> String {
    let mut out = drawing.to_string();
    for ink in ALL {
        for (number, dash) in DASHES.iter().enumerate() {
            let RGBColor(r, g, b) = ink.carried(number);
            let code = format!("#{r:02X}{g:02X}{b:02X}");
            out = out.replace(&format!("fill=\"{code}\""), &ink.fill());
            let dashed = if dash.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{dash}\"") };
            let stroke = format!("stroke=\"{}\" class=\"s-{}\"{dashed}", ink.hex(), ink.name());
            out = out.replace(&format!("stroke=\"{code}\""), &stroke);
        }
    }
    out
}
