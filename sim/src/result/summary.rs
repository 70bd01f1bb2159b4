//! Cycle figures, each with its definition. SI units; angles in radians after top dead centre.

/// Whether the cycle returned to its start.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// The state at exhaust opening repeats.
    Settled {
        /// Cycles it took.
        cycles: u32,
        /// Largest relative change over the last cycle.
        residual: f64,
    },
    /// The state repeats only after several turns, as where an engine fires on every other one; the figures are
    /// means over them.
    Repeats {
        /// Turns after which it repeats.
        turns: u32,
        /// Cycles it took.
        cycles: u32,
        /// Largest relative change over that many cycles.
        residual: f64,
    },
    /// It still drifts after the allowed cycles.
    NotSettled {
        /// Cycles computed.
        cycles: u32,
        /// Largest relative change over the last cycle.
        residual: f64,
        /// Which quantity still drifts.
        slowest: String,
    },
}

impl Verdict {
    /// True when the state repeats, after one turn or after several.
    #[must_use]
    pub fn settled(&self) -> bool {
        !matches!(self, Self::NotSettled { .. })
    }

    /// Turns after which the state repeats; none where it does not.
    #[must_use]
    pub fn turns(&self) -> Option<u32> {
        match self {
            Self::Settled { .. } => Some(1),
            Self::Repeats { turns, .. } => Some(*turns),
            Self::NotSettled { .. } => None,
        }
    }

    /// Cycles computed.
    #[must_use]
    pub fn cycles(&self) -> u32 {
        match self {
            Self::Settled { cycles, .. }
            | Self::Repeats { cycles, .. }
            | Self::NotSettled { cycles, .. } => *cycles,
        }
    }

    /// Largest relative change over the last cycle.
    #[must_use]
    pub fn residual(&self) -> f64 {
        match self {
            Self::Settled { residual, .. }
            | Self::Repeats { residual, .. }
            | Self::NotSettled { residual, .. } => *residual,
        }
    }
}

/// Why an engine would not run: nothing fresh comes in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standstill {
    /// The exhaust stands at more than the crankcase reaches, so that it fills with burned gas and draws nothing.
    BackPressure {
        /// In the cylinder at exhaust closing [Pa].
        cylinder: f64,
        /// In the crankcase when the transfers open [Pa].
        crankcase: f64,
    },
    /// The intake breathes out what it draws in.
    NothingDelivered,
}

impl std::fmt::Display for Standstill {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        match self {
            Self::BackPressure { cylinder, crankcase } => write!(
                f,
                "the back pressure is more than the crankcase overcomes ({:.2} bar in the cylinder at exhaust closing, {:.2} bar in the crankcase when the transfers open), so that no fresh charge is delivered",
                cylinder / 1e5,
                crankcase / 1e5
            ),
            Self::NothingDelivered => f.write_str(
                "no fresh charge is delivered: over a cycle the intake gives back all that it draws",
            ),
        }
    }
}

/// Work done for one point; machine-independent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct WorkCounts {
    /// Accepted steps.
    pub steps: u64,
    /// Refused steps.
    pub rejected: u64,
    /// Evaluations of the right-hand side.
    pub evaluations: u64,
}

impl WorkCounts {
    /// Adds another's.
    pub(crate) fn add(&mut self, other: &Self) {
        self.steps += other.steps;
        self.rejected += other.rejected;
        self.evaluations += other.evaluations;
    }
}

/// What came in less what went out less what is stored, over what went through.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Balance {
    /// Mass, over the mass through the intake.
    pub mass: f64,
    /// Burned mass, over the mass through the intake.
    pub burned: f64,
    /// Energy, over the heat released.
    pub energy: f64,
}

/// Figures of one group of transfer ducts.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GroupFigures {
    /// The group's name in the engine file.
    pub name: String,
    /// Its windows open at [rad].
    pub opens: f64,
    /// Hot backflow: from opening until the flow first turns forward. Mass [kg].
    pub hot_mass: f64,
    /// Burned mass in it [kg].
    pub hot_burned: f64,
    /// How long it lasts [rad].
    pub hot_duration: f64,
    /// Largest reverse mass flow in it [kg/s].
    pub hot_peak: f64,
    /// Slug volume over duct volume at its end, plus the volume overflowed until then over duct
    /// volume; above 1 gas from the cylinder has reached the crankcase.
    pub penetration: f64,
    /// ∫ṁ_back R T_cyl/(p V_d) dt over hot backflow: an upper bound on how far the hot gas stands.
    pub hot_depth: f64,
    /// Reverse flow later in the period, mass [kg].
    pub late_mass: f64,
    /// Burned mass in it [kg].
    pub late_burned: f64,
    /// Net forward mass over the cycle [kg].
    pub net_mass: f64,
    /// Largest slug volume over duct volume in the cycle.
    pub largest_slug: f64,
}

/// Figures of the petals of one stage of a reed valve.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ReedFigures {
    /// The stage's name in the engine file.
    pub name: String,
    /// Highest lift of the tip [m].
    pub lift: f64,
    /// Lift at the stop [m].
    pub stop: f64,
    /// Largest speed of the tip onto the seat [m/s].
    pub seat_speed: f64,
    /// Largest speed of the tip onto the stop [m/s].
    pub stop_speed: f64,
    /// Times the tip lifts by more than 2 % of the stop; more than one: it bounces or flutters.
    pub openings: u32,
    /// Angle over which it is lifted by more than that [rad].
    pub open: f64,
    /// Bending stress at the clamp at the highest lift [Pa].
    pub root_stress: f64,
    /// The same over what lasts.
    pub fatigue_share: f64,
    /// Natural frequency [Hz].
    pub frequency: f64,
}

/// Figures of one cycle.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Summary {
    /// Reference mass ρ₀·V_s: dry air at ambient state filling the swept volume [kg].
    pub reference_mass: f64,
    /// Net fresh mass through the intake M_d [kg].
    pub delivered_fresh: f64,
    /// α·M_d/(ρ₀V_s), α the air share of the fresh mixture.
    pub delivery_ratio: f64,
    /// (m − O at exhaust closing)/M_d; none where next to nothing is delivered. At most 1: M_d is less by the
    /// unburned gas of earlier cycles that leaves through the intake, and does not hold what a crankcase leak lets
    /// in, so that more new charge may be kept than it amounts to. All of it is kept then.
    pub trapping_efficiency: Option<f64>,
    /// Delivery ratio times trapping efficiency; zero where next to nothing is delivered.
    pub charging_efficiency: f64,
    /// Fresh over all at exhaust closing.
    pub scavenging_efficiency: f64,
    /// Net forward transfer mass over ρ₀V_s.
    pub scavenge_ratio: f64,
    /// Trapped mass at exhaust closing [kg].
    pub trapped_mass: f64,
    /// Unburned fresh gas left from the cycle before, at exhaust closing [kg].
    pub leftover_fresh: f64,
    /// Cylinder pressure at exhaust opening [Pa].
    pub cylinder_pressure_eo: f64,
    /// Cylinder temperature at exhaust opening [K].
    pub cylinder_temperature_eo: f64,
    /// Crankcase pressure at exhaust opening [Pa].
    pub crankcase_pressure_eo: f64,
    /// Crankcase temperature at exhaust opening [K].
    pub crankcase_temperature_eo: f64,
    /// Cylinder pressure when the first transfer window opens [Pa].
    pub cylinder_pressure_to: f64,
    /// Cylinder temperature then [K].
    pub cylinder_temperature_to: f64,
    /// Crankcase pressure then [Pa].
    pub crankcase_pressure_to: f64,
    /// Crankcase temperature then [K].
    pub crankcase_temperature_to: f64,
    /// Cylinder pressure when the last exhaust window closes [Pa].
    pub cylinder_pressure_ec: f64,
    /// Mean cylinder temperature there [K].
    pub cylinder_temperature_ec: f64,
    /// Temperature at which what leaves the exhaust side over a cycle would have its enthalpy [K].
    pub exhaust_temperature: f64,
    /// Rise of the pressure at exhaust closing when the zones mix, over itself; none with one zone.
    pub mixing_rise: Option<f64>,
    /// From the first transfer opening until the cylinder falls below crankcase pressure [rad];
    /// none when it does not before the transfers close.
    pub late_angle: Option<f64>,
    /// Hot backflow of all groups [kg].
    pub hot_backflow_mass: f64,
    /// Burned mass in it [kg].
    pub hot_backflow_burned: f64,
    /// Longest hot backflow of any group [rad].
    pub hot_backflow_duration: f64,
    /// Largest reverse mass flow of all groups together while hot backflow lasts [kg/s].
    pub hot_backflow_peak: f64,
    /// Deepest penetration of any group.
    pub hot_backflow_penetration: f64,
    /// Reverse flow later in the transfer period [kg].
    pub late_backflow_mass: f64,
    /// Burned mass in it [kg].
    pub late_backflow_burned: f64,
    /// Mass that flowed back from the exhaust into the cylinder [kg].
    pub exhaust_return_mass: f64,
    /// Fresh mass in it: charge that the exhaust pushed back [kg].
    pub exhaust_return_fresh: f64,
    /// Fresh mass lost through the exhaust, net [kg].
    pub fresh_lost: f64,
    /// Burned share of the crankcase charge at transfer opening.
    pub crankcase_burned_fraction: f64,
    /// Of it, from hot backflow.
    pub crankcase_burned_hot: f64,
    /// Of it, from late backflow.
    pub crankcase_burned_late: f64,
    /// Of it, from blow-by.
    pub crankcase_burned_blow_by: f64,
    /// Mass past the rings, cylinder to crankcase, net [kg].
    pub blow_by_mass: f64,
    /// Mass out of the crankcase leak, net [kg].
    pub crankcase_leak_mass: f64,
    /// Indicated mean effective pressure of the cylinder [Pa].
    pub imep: f64,
    /// The same of the crankcase, negative when it takes work [Pa].
    pub crankcase_imep: f64,
    /// Friction mean effective pressure [Pa].
    pub fmep: f64,
    /// imep + crankcase imep − fmep [Pa].
    pub bmep: f64,
    /// Brake torque [N m].
    pub torque: f64,
    /// Brake power [W].
    pub power: f64,
    /// Brake specific fuel consumption [kg/J]; none when there is no brake power.
    pub bsfc: Option<f64>,
    /// Fuel through the intake per cycle (1 − α)·M_d [kg].
    pub fuel_mass: f64,
    /// Mass burned per cycle [kg].
    pub burned_mass: f64,
    /// Heat released by burning, at the standard temperature [J].
    pub heat_released: f64,
    /// Heat from gas to cylinder walls [J].
    pub heat_to_walls: f64,
    /// Heat from gas to crankcase walls [J].
    pub heat_to_crankcase: f64,
    /// Peak cylinder pressure [Pa].
    pub peak_pressure: f64,
    /// Where it stands [rad after top dead centre].
    pub peak_pressure_angle: f64,
    /// 20·log₁₀ of the largest |dṁ/dt| at the exhaust outlet in kg/s²: differences between builds
    /// only [dB].
    pub exhaust_pulse_level: f64,
    /// Mass back past the petals of a reed valve [kg]; none without one.
    pub reed_backflow_mass: Option<f64>,
    /// Balances over the cycle.
    pub balance: Balance,
}

/// One operating point.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Speed [1/min].
    pub rpm: f64,
    /// Whether it settled.
    pub verdict: Verdict,
    /// Why it would not run; none where it does.
    pub standstill: Option<Standstill>,
    /// Figures of the last cycle.
    pub summary: Summary,
    /// Figures of each transfer group.
    pub groups: Vec<GroupFigures>,
    /// Figures of each stage of a reed valve.
    pub reed: Vec<ReedFigures>,
    /// Work it took.
    pub work: WorkCounts,
}

impl Point {
    /// What became of it in a word: `settled`, `would_not_run`, `repeats_every_2_turns`, `not_settled`. An engine
    /// that would not run has nothing to settle to that anybody wants to know.
    #[must_use]
    pub fn outcome(&self) -> String {
        match (&self.standstill, self.verdict.turns()) {
            (Some(_), _) => "would_not_run".to_owned(),
            (None, Some(1)) => "settled".to_owned(),
            (None, Some(turns)) => format!("repeats_every_{turns}_turns"),
            (None, None) => "not_settled".to_owned(),
        }
    }

    /// Whether it says what its engine does: that it would not run, or figures that repeat.
    #[must_use]
    pub fn answers(&self) -> bool {
        self.standstill.is_some() || self.verdict.settled()
    }

    /// Whether its figures can be used: the engine runs and its state repeats.
    #[must_use]
    pub fn usable(&self) -> bool {
        self.standstill.is_none() && self.verdict.settled()
    }

    /// The largest of a figure of all stages of a reed valve.
    #[must_use]
    pub fn most_of_reed(&self, figure: impl Fn(&ReedFigures) -> f64) -> Option<f64> {
        self.reed.iter().map(figure).reduce(f64::max)
    }
}
