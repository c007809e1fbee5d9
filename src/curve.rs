//! What sweeps give: curves over a frequency or a level, and listings of figures with their units.
//!
//! Plain data. Which curves there are is decided above, how they look in the output.

/// Values of one quantity along a curve.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Column {
    /// `frequency`, `gain`, `vout`.
    pub name: String,
    /// SI symbol; `1` for a plain number.
    pub unit: &'static str,
    /// One a point.
    pub values: Vec<f64>,
}

impl Column {
    /// A column.
    pub fn new(name: impl Into<String>, unit: &'static str, values: Vec<f64>) -> Self {
        Self { name: name.into(), unit, values }
    }
}

/// What was held while a curve was taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Held {
    /// `load`, `source`, `ambient`.
    pub name: &'static str,
    /// SI symbol; `°C` for temperatures.
    pub unit: &'static str,
    /// In that unit.
    pub value: f64,
}

/// One curve: columns over the first of them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Curve {
    /// What was held, in words: `2 mA, 3.7 V, 25 °C`.
    pub condition: String,
    /// What was held, in figures.
    pub held: Vec<Held>,
    /// The axis, then what was found along it.
    pub columns: Vec<Column>,
}

impl Curve {
    /// A column by its name.
    pub fn column(&self, name: &str) -> Option<&Column> {
        self.columns.iter().find(|c| c.name == name)
    }

    /// Points of one column over another, those that are not finite left out.
    pub fn points(&self, x: &str, y: &str) -> Vec<(f64, f64)> {
        let (Some(x), Some(y)) = (self.column(x), self.column(y)) else { return Vec::new() };
        let pairs = x.values.iter().copied().zip(y.values.iter().copied());
        pairs.filter(|(x, y)| x.is_finite() && y.is_finite()).collect()
    }
}

/// A column's head in a listing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Heading {
    /// snake_case, as in the JSON.
    pub name: &'static str,
    /// SI symbol; empty for text.
    pub unit: &'static str,
}

/// One cell of a listing.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// In the unit of its column.
    Number(f64),
    /// Words.
    Text(String),
    /// Nothing to tell.
    Nothing,
}

impl From<f64> for Cell {
    fn from(value: f64) -> Self {
        if value.is_finite() { Self::Number(value) } else { Self::Nothing }
    }
}

impl From<Option<f64>> for Cell {
    fn from(value: Option<f64>) -> Self {
        value.map_or(Self::Nothing, Self::from)
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

/// Figures that belong together, row by row.
#[derive(Clone, Debug, PartialEq)]
pub struct Listing {
    /// snake_case, as in the JSON: `poles`, `headroom_budget`.
    pub name: &'static str,
    /// What stands above it.
    pub title: String,
    /// Heads of the columns.
    pub columns: Vec<Heading>,
    /// As many cells as there are columns in each.
    pub rows: Vec<Vec<Cell>>,
}

impl Listing {
    /// A listing without rows.
    pub fn new(
        name: &'static str,
        title: impl Into<String>,
        columns: &[(&'static str, &'static str)],
    ) -> Self {
        let heading = |&(name, unit): &(&'static str, &'static str)| Heading { name, unit };
        let columns = columns.iter().map(heading).collect();
        Self { name, title: title.into(), columns, rows: Vec::new() }
    }

    /// Adds a row; missing cells are left empty, further ones dropped.
    pub fn push(&mut self, cells: impl IntoIterator<Item = Cell>) {
        let mut row: Vec<Cell> = cells.into_iter().take(self.columns.len()).collect();
        row.resize(self.columns.len(), Cell::Nothing);
        self.rows.push(row);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_has_as_many_cells_as_columns() {
        let mut listing = Listing::new("poles", "poles", &[("frequency", "Hz"), ("part", "")]);
        listing.push([Cell::from(1.0)]);
        listing.push([Cell::from(f64::NAN), "C_OUT".into(), Cell::from(2.0)]);
        assert_eq!(listing.rows[0], [Cell::Number(1.0), Cell::Nothing]);
        assert_eq!(listing.rows[1], [Cell::Nothing, Cell::Text("C_OUT".to_owned())]);
    }

    #[test]
    fn points_that_are_not_finite_are_left_out() {
        let columns = vec![
            Column::new("x", "Hz", vec![1.0, 2.0, 3.0]),
            Column::new("y", "1", vec![1.0, f64::NAN, 9.0]),
        ];
        let curve = Curve { columns, ..Curve::default() };
        assert_eq!(curve.points("x", "y"), [(1.0, 1.0), (3.0, 9.0)]);
        assert!(curve.points("x", "z").is_empty());
    }
}
