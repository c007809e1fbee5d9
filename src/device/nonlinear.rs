//! All nonlinear laws under one name, dispatched by one match instead of boxed traits.

use super::adjustable_shunt::{ShuntInput, ShuntInputOverTemperature, ShuntOutput};
use super::amplifier_stages::{CeilingClamp, Clamp, CurrentStage, InputStage, VoltageStage};
use super::bias::{BiasCurve, ClassBias};
use super::bipolar::{Bipolar, BipolarOverTemperature, ChargedBipolar, ChargedOverTemperature};
use super::contact::{Contact, Gate};
use super::current_limit::{LimitDemand, Steering};
use super::diode::{ChargedDiode, ChargedJunction, Diode, Junction};
use super::load::{CurrentLoad, PowerLoad, ResistanceLoad, Short};
use super::mosfet::{Mosfet, MosfetOverTemperature, MosfetWithBody, MosfetWithBodyOverTemperature};
use super::operational_amplifier::{OffsetStage, SwingLimits};
use super::program_law::{ProgramCharge, ProgramCurrent};
use super::reference::SuppliedReference;
use super::transconductor::TransconductorStage;
use super::warm::{Ohmic, Warm};
use super::zener::{ChargedZener, ChargedZenerOverTemperature, Zener, ZenerOverTemperature};
use super::{Abreast, Law, Rank};

/// Something to do with a law whatever its kind.
pub trait Visitor {
    /// What it gives.
    type Output;
    /// Does it.
    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(
        self,
        law: &L,
    ) -> Self::Output;
}

/// Something to do with laws of one kind, side by side.
pub trait RankVisitor {
    /// Does it.
    fn visit<L, R, const N: usize, const M: usize, const K: usize>(self, rank: &R)
    where
        L: Law<f64, N, M, K>,
        R: Rank<L>;
}

struct Resistive;

impl Visitor for Resistive {
    type Output = Vec<bool>;

    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(
        self,
        law: &L,
    ) -> Vec<bool> {
        law.resistive().to_vec()
    }
}

impl Nonlinear {
    /// For each current, whether it ties the voltages at its pins together, as [`Law::resistive`].
    pub fn resistive(&self) -> Vec<bool> {
        self.visit(Resistive)
    }
}

/// One list of laws makes the enum, its dispatch and its conversions.
macro_rules! laws {
    ($($(#[$text:meta])* $variant:ident($law:ty),)*) => {
        /// Any nonlinear law.
        #[derive(Clone, Debug)]
        pub enum Nonlinear {
            $($(#[$text])* $variant($law),)*
        }

        impl Nonlinear {
            /// Calls the visitor with the law inside.
            #[inline]
            pub fn visit<V: Visitor>(&self, visitor: V) -> V::Output {
                self.visit_in_place(visitor)
            }

            /// The same without a call of its own, which one asks for who asks millions of times.
            #[allow(clippy::inline_always)] // measured: a sixth of what an evaluation costs
            #[inline(always)]
            pub fn visit_in_place<V: Visitor>(&self, visitor: V) -> V::Output {
                match self {
                    $(Nonlinear::$variant(law) => visitor.visit(law),)*
                }
            }
        }

        /// The same law of several variants, side by side.
        // There is one of each for eight variants, and they are walked, not moved.
        #[allow(clippy::large_enum_variant)]
        #[derive(Clone, Debug)]
        pub enum Ranked {
            $($(#[$text])* $variant(<$law as Abreast>::Rank),)*
        }

        impl Ranked {
            /// One law in all places.
            pub fn of(law: &Nonlinear) -> Self {
                match law {
                    $(Nonlinear::$variant(law) => Ranked::$variant(Rank::of(law)),)*
                }
            }

            /// Puts a law into a place; `false` if it is of another kind.
            pub fn seat(&mut self, place: usize, law: &Nonlinear) -> bool {
                match (self, law) {
                    $((Ranked::$variant(rank), Nonlinear::$variant(law)) => {
                        rank.seat(place, law);
                        true
                    })*
                    _ => false,
                }
            }

            /// Calls the visitor with the laws inside.
            #[inline]
            pub fn visit<V: RankVisitor>(&self, visitor: V) {
                match self {
                    $(Ranked::$variant(rank) => visitor.visit::<$law, _, _, _, _>(rank),)*
                }
            }
        }

        $(impl From<$law> for Nonlinear {
            fn from(law: $law) -> Self {
                Nonlinear::$variant(law)
            }
        })*
    };
}

laws! {
    /// Load of constant current.
    CurrentLoad(CurrentLoad<f64>),
    /// Load of constant resistance.
    ResistanceLoad(ResistanceLoad<f64>),
    /// A contact with a conductance that is driven.
    Short(Short),
    /// Load of constant power.
    PowerLoad(PowerLoad<f64>),
    /// Junction without charge.
    Diode(Diode<f64>),
    /// Junction with charge.
    ChargedDiode(ChargedDiode<f64>),
    /// Bipolar transistor without charge.
    Bipolar(Bipolar<f64>),
    /// Bipolar transistor with charge.
    ChargedBipolar(ChargedBipolar<f64>),
    /// MOS channel, body at the source.
    Mosfet(Mosfet<f64>),
    /// MOS channel with a body of its own.
    MosfetWithBody(MosfetWithBody<f64>),
    /// Input stage of an error amplifier.
    InputStage(InputStage<f64>),
    /// Swing limits of an error amplifier.
    Clamp(Clamp<f64>),
    /// Swing limits with a ceiling.
    CeilingClamp(CeilingClamp<f64>),
    /// Output stage that drives a gate.
    VoltageStage(VoltageStage<f64>),
    /// Output stage that drives a base.
    CurrentStage(CurrentStage<f64>),
    /// Input stage whose balance is off zero.
    OffsetStage(OffsetStage<f64>),
    /// Swing limits of an operational amplifier.
    SwingLimits(SwingLimits<f64>),
    /// Output current of a transconductor.
    TransconductorStage(TransconductorStage<f64>),
    /// Reference that follows its supply.
    SuppliedReference(SuppliedReference<f64>),
    /// Zener diode without charge.
    Zener(Zener<f64>),
    /// Zener diode with charge.
    ChargedZener(ChargedZener<f64>),
    /// Comparison in an adjustable shunt.
    ShuntInput(ShuntInput<f64>),
    /// Cathode current of an adjustable shunt.
    ShuntOutput(ShuntOutput<f64>),
    /// What a current limit asks for.
    LimitDemand(LimitDemand<f64>),
    /// What a current limit steers.
    Steering(Steering<f64>),
    /// Current or voltage by expression.
    ProgramCurrent(ProgramCurrent),
    /// Capacitance by points over its voltage.
    BiasCurve(BiasCurve<f64>),
    /// Capacitance by the habit of its class.
    ClassBias(ClassBias<f64>),
    /// Charge by expression.
    ProgramCharge(ProgramCharge),
    /// Contact between two resistances.
    Contact(Contact<f64>),
    /// Contact that is not there when open.
    Gate(Gate<f64>),
    /// Resistance on a heat path.
    WarmResistance(Warm<Ohmic>),
    /// Junction on a heat path.
    WarmJunction(Warm<Junction>),
    /// Junction with charge on a heat path.
    WarmChargedJunction(Warm<ChargedJunction>),
    /// Bipolar transistor without charge on a heat path.
    WarmBipolar(Warm<BipolarOverTemperature>),
    /// Bipolar transistor with charge on a heat path.
    WarmChargedBipolar(Warm<ChargedOverTemperature>),
    /// MOS channel, body at the source, on a heat path.
    WarmMosfet(Warm<MosfetOverTemperature>),
    /// MOS channel with a body of its own on a heat path.
    WarmMosfetWithBody(Warm<MosfetWithBodyOverTemperature>),
    /// Zener diode without charge on a heat path.
    WarmZener(Warm<ZenerOverTemperature>),
    /// Zener diode with charge on a heat path.
    WarmChargedZener(Warm<ChargedZenerOverTemperature>),
    /// Comparison in an adjustable shunt on a heat path.
    WarmShuntInput(Warm<ShuntInputOverTemperature>),
    /// Cathode current of an adjustable shunt on a heat path.
    WarmShuntOutput(Warm<ShuntOutput<f64>>),
    /// What a part on a heat path takes for itself.
    WarmConsumption(Warm<CurrentLoad<f64>>),
}
