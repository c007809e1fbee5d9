//! Who stores charge and flux: every entry of the capacitance matrix with the part it belongs to.

use super::System;
use super::assemble::Linearisation;
use crate::device::{Element, GROUND, Net, Role};

/// One element that stores: `value` times (z[columns 0] − z[columns 1]) sits on rows 0, its opposite
/// on rows 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Store {
    /// `C_OUT`; `EA.lag` where a part has several.
    pub owner: String,
    rows: [usize; 2],
    columns: [usize; 2],
    /// F, or -H in the row of a branch, its own or another's.
    value: f64,
}

impl Store {
    /// wᵀ·C·v of this element alone, for vectors over the unknowns.
    pub fn between<T>(&self, w: &[T], v: &[T]) -> T
    where
        T: Copy
            + std::ops::Sub<Output = T>
            + std::ops::Mul<Output = T>
            + std::ops::Mul<f64, Output = T>,
    {
        (w[self.rows[0]] - w[self.rows[1]]) * (v[self.columns[0]] - v[self.columns[1]]) * self.value
    }
}

/// Stores of constant size.
pub(super) fn constant(net: &Net) -> Vec<Store> {
    let place = |(part, element): &(usize, Element)| match element {
        Element::Capacitance { pins, farad, .. } => {
            let ends = pins.map(|p| p.unknown);
            vec![(*part, ends, ends, *farad)]
        }
        Element::Branch { current, inductance_h, .. } if *inductance_h != 0.0 => {
            vec![(*part, [*current, GROUND], [*current, GROUND], -inductance_h)]
        }
        Element::Mutual { currents, henry } => {
            let [a, b] = currents.map(|k| [k, GROUND]);
            vec![(*part, a, b, -henry), (*part, b, a, -henry)]
        }
        _ => Vec::new(),
    };
    let found: Vec<_> = net.elements.iter().flat_map(place).collect();
    let several = |part: usize, of_flux: bool| {
        found.iter().filter(|(p, _, _, value)| *p == part && (*value < 0.0) == of_flux).count() > 1
    };
    found
        .iter()
        .map(|&(part, rows, columns, value)| {
            let inner = rows.into_iter().find_map(|row| {
                let unknown = &net.unknowns[row];
                let inside = matches!(unknown.role, Role::InnerNode | Role::Temperature);
                inside.then(|| unknown.name.clone())
            });
            let name = || net.parts[part].name.clone();
            let owner = inner.filter(|_| several(part, value < 0.0)).unwrap_or_else(name);
            Store { owner, rows, columns, value }
        })
        .collect()
}

impl System {
    /// Every element that stores charge or flux, with its size where the slopes were taken.
    pub fn stores(&self, at: &Linearisation) -> Vec<Store> {
        let mut all = self.stores.clone();
        for placed in &self.laws {
            let width = placed.inputs.len();
            for (k, rows) in placed.charges.iter().enumerate() {
                let slopes = &at.charge_slopes[placed.first_slope + k * width..][..width];
                let wide = |pair: &[u32; 2]| pair.map(|i| i as usize);
                let inside =
                    placed.inputs.iter().zip(slopes).filter(|(input, _)| {
                        input.iter().all(|&i| (i as usize) < self.unknowns.len())
                    });
                all.extend(inside.map(|(input, &value)| Store {
                    owner: self.parts[placed.part].name.clone(),
                    rows: wide(rows),
                    columns: wide(input),
                    value,
                }));
            }
        }
        all
    }
}
