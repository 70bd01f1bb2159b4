//! Where each unknown sits in the state vector. The only place that knows.

use super::MAX_GROUPS;

/// Which parts an engine has and where their unknowns sit; the same for all lanes of a group.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Layout {
    /// Groups of transfer ducts.
    pub groups: usize,
    /// Whether a silencer volume stands behind the exhaust.
    pub silencer: bool,
    /// Which transfer groups have a gas column of their own.
    pub columns: [bool; MAX_GROUPS],
    /// Whether the inlet tract has one.
    pub inlet_column: bool,
    /// Stages of petals of a reed valve.
    pub petals: usize,
    /// Whether the cylinder has a new and an old zone while gas is exchanged.
    pub two_zones: bool,
    normed: usize,
}

/// Mass [kg], energy [J] and burned mass [kg] of a volume, in this order from its offset.
pub const MASS: usize = 0;
/// Offset of the energy.
pub const ENERGY: usize = 1;
/// Offset of the burned mass.
pub const BURNED: usize = 2;

/// Lift of a petal [m] and its velocity [m/s], in this order from its offset.
pub const LIFT: usize = 0;
/// Offset of the velocity.
pub const VELOCITY: usize = 1;

/// Offset of the potential-temperature content Θ_s of a slug zone, after its mass and burned mass.
pub const SLUG_MASS: usize = 0;
/// Offset of a slug zone's burned mass.
pub const SLUG_BURNED: usize = 1;
/// Offset of a slug zone's Θ_s [kg K].
pub const SLUG_POTENTIAL: usize = 2;

/// Offset of the new zone's mass [kg] among what the zones of the cylinder hold.
pub const ZONE_MASS: usize = 0;
/// Offset of its burned mass [kg].
pub const ZONE_BURNED: usize = 1;
/// Offset of its Θ_n = m_n θ_n [kg K].
pub const ZONE_POTENTIAL: usize = 2;
/// Offset of the old zone's Θ_o [kg K].
pub const ZONE_OLD_POTENTIAL: usize = 3;
/// Unknowns of the zones in the error norm.
const ZONES: usize = 4;

/// Offset of old gas among the tracers of a place.
pub const OLD: usize = 0;
/// Offset of burned gas from hot backflow.
pub const HOT: usize = 1;
/// Offset of burned gas from late backflow.
pub const LATE: usize = 2;

impl Layout {
    /// First state of the cylinder.
    pub const CYLINDER: usize = 0;
    /// First state of the crankcase.
    pub const CRANKCASE: usize = 3;
    const SLUGS: usize = 6;

    /// For an engine with these parts.
    #[must_use]
    pub fn new(
        groups: usize,
        silencer: bool,
        columns: [bool; MAX_GROUPS],
        inlet_column: bool,
    ) -> Self {
        let flows = columns.iter().filter(|c| **c).count() + usize::from(inlet_column);
        let normed = Self::SLUGS + 3 * groups + flows + 3 * usize::from(silencer);
        Self { groups, silencer, columns, inlet_column, petals: 0, two_zones: false, normed }
    }

    /// The same with stages of petals.
    #[must_use]
    pub fn with_petals(self, petals: usize) -> Self {
        Self { petals, normed: self.normed + 2 * petals, ..self }
    }

    /// The same with a new and an old zone in the cylinder while gas is exchanged.
    #[must_use]
    pub fn with_two_zones(self) -> Self {
        Self { two_zones: true, normed: self.normed + ZONES, ..self }
    }

    /// First state of the cylinder's zones, where it has two.
    #[must_use]
    #[inline(always)]
    pub fn zones(&self) -> usize {
        self.normed - ZONES
    }

    /// Old gas in the new zone, where there are two.
    #[must_use]
    #[inline(always)]
    pub fn zone_old(&self) -> usize {
        self.slug_tracers(self.groups)
    }

    /// States that count in the error norm but for those of the zones.
    #[inline(always)]
    fn before_zones(&self) -> usize {
        self.normed - ZONES * usize::from(self.two_zones)
    }

    /// First state of the petals of stage `s`.
    #[must_use]
    #[inline(always)]
    pub fn petal(&self, s: usize) -> usize {
        self.before_zones() - 3 * usize::from(self.silencer) - 2 * (self.petals - s)
    }

    /// Mass flow of the gas column of group `g` [kg/s], where it has one.
    #[must_use]
    #[inline(always)]
    pub fn column(&self, g: usize) -> Option<usize> {
        let before = self.columns[..g].iter().filter(|c| **c).count();
        self.columns[g].then_some(Self::SLUGS + 3 * self.groups + before)
    }

    /// Mass flow of the inlet tract's column [kg/s], where it has one.
    #[must_use]
    #[inline(always)]
    pub fn inlet(&self) -> Option<usize> {
        let before = self.columns.iter().filter(|c| **c).count();
        self.inlet_column.then_some(Self::SLUGS + 3 * self.groups + before)
    }

    /// First state of the silencer.
    #[must_use]
    #[inline(always)]
    pub fn silencer(&self) -> usize {
        self.before_zones() - 3
    }

    /// First state of the slug zone of group `g`.
    #[must_use]
    #[inline(always)]
    pub fn slug(&self, g: usize) -> usize {
        Self::SLUGS + 3 * g
    }

    /// States that count in the error norm.
    #[must_use]
    #[inline(always)]
    pub fn normed(&self) -> usize {
        self.normed
    }

    /// Old gas in the cylinder.
    #[must_use]
    #[inline(always)]
    pub fn cylinder_old(&self) -> usize {
        self.normed
    }

    /// Old gas in the silencer (a state even without one, then idle).
    #[must_use]
    #[inline(always)]
    pub fn silencer_old(&self) -> usize {
        self.normed + 1
    }

    /// First tracer of the crankcase.
    #[must_use]
    #[inline(always)]
    pub fn crankcase_tracers(&self) -> usize {
        self.normed + 2
    }

    /// First tracer of the slug zone of group `g`.
    #[must_use]
    #[inline(always)]
    pub fn slug_tracers(&self, g: usize) -> usize {
        self.normed + 5 + 3 * g
    }

    /// All states.
    #[must_use]
    pub fn states(&self) -> usize {
        self.slug_tracers(self.groups) + usize::from(self.two_zones)
    }

    /// All quadratures.
    #[must_use]
    pub fn quadratures(&self) -> usize {
        quadrature::GROUPS + quadrature::PER_GROUP * self.groups
    }
}

/// Integrals over the cycle, outside the error norm.
pub mod quadrature {
    macro_rules! numbered {
        ($($(#[$doc:meta])* $name:ident = $index:expr;)*) => { $($(#[$doc])* pub const $name: usize = $index;)* };
    }
    numbered! {
        /// Intake: net mass into the crankcase [kg].
        INTAKE_MASS = 0;
        /// Intake: net fresh mass [kg].
        INTAKE_FRESH = 1;
        /// Intake: net enthalpy [J].
        INTAKE_ENTHALPY = 2;
        /// Beyond the exhaust (outlet of the silencer, or the port itself): net mass out [kg].
        OUTLET_MASS = 3;
        /// The same, burned mass [kg].
        OUTLET_BURNED = 4;
        /// The same, enthalpy [J].
        OUTLET_ENTHALPY = 5;
        /// Exhaust port: mass that flows back into the cylinder [kg].
        EXHAUST_RETURN = 6;
        /// Exhaust port: net fresh mass out [kg].
        FRESH_LOST = 7;
        /// Blow-by: net mass into the crankcase [kg].
        BLOW_BY = 8;
        /// Crankcase leak: net mass out [kg].
        LEAK_MASS = 9;
        /// Crankcase leak: net burned mass out [kg].
        LEAK_BURNED = 10;
        /// Crankcase leak: net enthalpy out [J].
        LEAK_ENTHALPY = 11;
        /// ∫p dV of the cylinder [J].
        CYLINDER_WORK = 12;
        /// ∫p dV of the crankcase [J].
        CRANKCASE_WORK = 13;
        /// Heat from gas to cylinder walls [J].
        CYLINDER_HEAT = 14;
        /// Heat from gas to crankcase and duct walls [J].
        CRANKCASE_HEAT = 15;
        /// Heat from gas to the walls of silencer and pipes [J].
        SILENCER_HEAT = 16;
        /// Burned mass made [kg].
        BURNT = 17;
        /// Exhaust port: fresh mass that flows back into the cylinder [kg].
        RETURNED_FRESH = 18;
        /// First quadrature of the first transfer group.
        GROUPS = 19;
    }
    /// Quadratures of a transfer group.
    pub const PER_GROUP: usize = 5;
    /// Net forward mass [kg].
    pub const NET: usize = 0;
    /// Reverse mass [kg].
    pub const REVERSE: usize = 1;
    /// Burned mass in it [kg].
    pub const REVERSE_BURNED: usize = 2;
    /// ∫ṁ_back R T_cyl/p dt [m³].
    pub const REVERSE_VOLUME: usize = 3;
    /// Overflowed volume [m³].
    pub const OVERFLOW: usize = 4;

    /// First quadrature of group `g`.
    #[must_use]
    #[inline(always)]
    pub fn group(g: usize) -> usize {
        GROUPS + PER_GROUP * g
    }
}
