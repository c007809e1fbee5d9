//! One law of several variants of a circuit, laid side by side so that all are evaluated in one loop.
//!
//! What a law computes with stands in columns, one number a variant; the rest of it (words, limits of
//! iterations, noise) is not asked for in lockstep and is that of any of them. A law whose size varies, or
//! that branches, stands as it is, once for each variant: the same loop then takes one after the other.

use crate::numeric::LANES;
use std::borrow::Borrow;

/// A law that can stand beside others of its kind.
pub trait Abreast: Clone {
    /// Several of it.
    type Rank: Rank<Self>;
}

/// Laws of one kind side by side, [`LANES`] of them.
pub trait Rank<L>: Clone {
    /// The same one in all places.
    fn of(law: &L) -> Self;
    /// Puts one into a place, below [`LANES`].
    fn seat(&mut self, place: usize, law: &L);
    /// The one in a place, as far as it computes.
    fn at(&self, place: usize) -> impl Borrow<L>;
}

/// A law by the numbers that it computes with.
pub trait ByNumbers<const P: usize>: Clone {
    /// These numbers.
    fn numbers(&self) -> [f64; P];
    /// The same law with others.
    fn with(&self, numbers: [f64; P]) -> Self;
}

/// Laws whose numbers stand in columns.
#[derive(Clone, Debug)]
pub struct InColumns<L, const P: usize> {
    like: L,
    columns: [[f64; LANES]; P],
}

impl<L: ByNumbers<P>, const P: usize> Rank<L> for InColumns<L, P> {
    fn of(law: &L) -> Self {
        Self { like: law.clone(), columns: law.numbers().map(|number| [number; LANES]) }
    }

    fn seat(&mut self, place: usize, law: &L) {
        for (column, number) in self.columns.iter_mut().zip(law.numbers()) {
            column[place] = number;
        }
    }

    #[allow(clippy::inline_always)] // measured: it is the head of the loop over variants
    #[inline(always)]
    fn at(&self, place: usize) -> impl Borrow<L> {
        self.like.with(std::array::from_fn(|p| self.columns[p][place % LANES]))
    }
}

/// Laws as they are.
#[derive(Clone, Debug)]
pub struct OneByOne<L>(Vec<L>);

impl<L: Clone> Rank<L> for OneByOne<L> {
    fn of(law: &L) -> Self {
        Self(vec![law.clone(); LANES])
    }

    fn seat(&mut self, place: usize, law: &L) {
        self.0[place] = law.clone();
    }

    fn at(&self, place: usize) -> impl Borrow<L> {
        &self.0[place]
    }
}

/// Names the numbers that a law computes with. One left out would be taken from another variant: the test
/// of the table of kinds lays every kind with other numbers and compares.
macro_rules! in_columns {
    ($law:ty: $count:literal, $($($field:tt).+),+) => {
        impl crate::device::abreast::ByNumbers<$count> for $law {
            fn numbers(&self) -> [f64; $count] {
                [$(self.$($field).+),+]
            }

            #[inline]
            fn with(&self, numbers: [f64; $count]) -> Self {
                let mut law = self.clone();
                let mut place = 0;
                $(
                    law.$($field).+ = numbers[place];
                    place += 1;
                )+
                debug_assert_eq!(place, $count);
                law
            }
        }

        impl crate::device::abreast::Abreast for $law {
            type Rank = crate::device::abreast::InColumns<Self, $count>;
        }
    };
}

/// Laws that stand as they are.
macro_rules! one_by_one {
    ($($law:ty),+) => { $(
        impl crate::device::abreast::Abreast for $law {
            type Rank = crate::device::abreast::OneByOne<Self>;
        }
    )+ };
}

pub(super) use {in_columns, one_by_one};
