//! The numbers of a case, one lane each. Everything that may differ between the lanes of a group.

use crate::crank::Crank;
use crate::engine::reed::PetalMotion;
use crate::gas::Gas;
use crate::lane::Lane;

/// Declares a struct of lane numbers with the two ways of filling it.
macro_rules! lane_numbers {
    ($(#[$doc:meta])* $name:ident { $($(#[$field_doc:meta])* $field:ident,)* }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq)]
        pub struct $name<L: Lane> {
            $($(#[$field_doc])* pub $field: L,)*
        }

        impl<L: Lane> $name<L> {
            /// The same numbers in every lane.
            #[must_use]
            pub fn splat(from: &$name<f64>) -> Self {
                Self { $($field: L::splat(from.$field),)* }
            }

            /// Sets one lane.
            pub fn set_lane(&mut self, lane: usize, from: &$name<f64>) {
                $(self.$field.set_lane(lane, from.$field);)*
            }
        }
    };
}

lane_numbers! {
    /// Plain numbers of the whole engine.
    Figures {
        /// 1/ω [s/rad].
        time_per_radian,
        /// Bore area A [m²].
        bore_area,
        /// Clearance volume V_c [m³].
        clearance,
        /// Crankcase volume with the piston at the top, ducts included [m³].
        crankcase_at_top,
        /// Half-width ε of the regularised flow function.
        epsilon,
        /// Ambient pressure p₀ [Pa].
        ambient_pressure,
        /// 1/p₀ [1/Pa].
        per_ambient_pressure,
        /// R·T of the fresh gas outside [J/kg].
        fresh_rt,
        /// R/c_p of the fresh gas outside.
        fresh_kappa,
        /// Enthalpy with which it enters [J/kg].
        fresh_enthalpy,
        /// Pressure behind the exhaust [Pa].
        back_pressure,
        /// R·T of the gas there [J/kg].
        back_rt,
        /// R/c_p there.
        back_kappa,
        /// Its enthalpy [J/kg].
        back_enthalpy,
        /// Its burned share; the rest counts as new.
        back_burned,
        /// Constant discharge coefficient of the exhaust windows.
        exhaust_discharge,
        /// Flow area of the exhaust windows fully open [m²].
        exhaust_full,
        /// Exit area over √(1 + loss) for outward flow [m²].
        exit_outward,
        /// The same for inward flow.
        exit_inward,
        /// Silencer and casting duct volume [m³].
        silencer_volume,
        /// Effective outlet area [m²].
        outlet,
        /// Silencer wall conductance [W/K].
        silencer_conductance,
        /// Silencer wall temperature [K].
        silencer_wall,
        /// Constant discharge coefficient of the intake.
        intake_discharge,
        /// Flow area of the intake fully open [m²].
        intake_full,
        /// Constant discharge coefficient of piston windows behind a reed block.
        passage_discharge,
        /// Effective venturi area [m²].
        venturi,
        /// Rotary inlet: opening angle [rad].
        rotary_opens,
        /// Rotary inlet: open period [rad].
        rotary_period,
        /// Rotary inlet: 1/ramp [1/rad].
        rotary_steepness,
        /// Effective leak area past the rings [m²].
        blow_by,
        /// Effective crankcase leak area [m²].
        leak,
        /// Crankcase wall conductance [W/K].
        crankcase_conductance,
        /// Crankcase wall temperature [K].
        crankcase_wall,
        /// Start of burning in the traced cycle [rad].
        burn_start,
        /// 1/duration of burning [1/rad].
        burn_rate,
        /// Wiebe m.
        burn_form,
        /// Wiebe a.
        burn_completeness,
        /// 1/(1 − e^{−a}).
        burn_normal,
        /// Share of the fresh charge that burns η_c.
        burn_efficiency,
        /// Short-circuit share σ.
        short_circuit,
        /// Mass below which a zone of the cylinder passes over into the whole [kg].
        zone_floor,
        /// C_m of the exchange between the zones.
        zone_exchange,
        /// Inlet tract: area over length [m].
        inlet_ease,
        /// Inlet tract: losses forward [1/m⁴].
        inlet_loss_forward,
        /// Inlet tract: losses in reverse [1/m⁴].
        inlet_loss_reverse,
        /// Fastest relaxation of a column [1/s].
        fastest,
    }
}

lane_numbers! {
    /// Numbers of the heat correlations.
    HeatFigures {
        /// Bore [m].
        bore,
        /// Mean piston speed [m/s].
        piston_speed,
        /// Convective coefficient (Annand a, or Woschni scale).
        convective,
        /// Radiative coefficient [W/(m² K⁴)].
        radiative,
        /// Bore^−0.2 [m^−0.2].
        bore_power,
        /// Head area [m²].
        head_area,
        /// Crown area [m²].
        crown_area,
        /// Liner perimeter [m].
        perimeter,
        /// Liner height above the crown edge at top dead centre [m].
        liner_at_top,
        /// Head temperature [K].
        head_wall,
        /// Crown temperature [K].
        crown_wall,
        /// Liner temperature [K].
        liner_wall,
        /// Swept volume [m³].
        swept,
    }
}

lane_numbers! {
    /// Numbers of a transfer group.
    GroupNumbers {
        /// Constant discharge coefficient.
        discharge,
        /// Flow area fully open [m²].
        full,
        /// 1/V_d of the duct [1/m³].
        per_duct_volume,
        /// 1/m_δ [1/kg].
        per_blend_mass,
        /// m_f [kg].
        floor_mass,
        /// Slug wall conductance [W/K].
        conductance,
        /// Slug wall temperature [K].
        wall,
        /// Column area over its length A_d/L [m].
        column_ease,
        /// Losses of the column, (ζ_e + 4fL/D)/(2A_d²) forward [1/m⁴].
        loss_forward,
        /// Losses in reverse, 4fL/D/(2A_d²) [1/m⁴].
        loss_reverse,
    }
}

lane_numbers! {
    /// Numbers of a stage of petals.
    PetalNumbers {
        /// ω₁² [1/s²].
        stiffness,
        /// 2ζω₁ [1/s].
        damping,
        /// What a pressure difference accelerates a petal by [m/s² per Pa].
        load,
        /// Square of its frequency on seat or stop [1/s²].
        contact,
        /// Dissipation κ there.
        dissipation,
        /// Lift at the stop [m].
        stop,
        /// Curtain of all petals over the lift [m].
        curtain,
        /// Windows of all petals [m²].
        windows,
    }
}

impl<L: Lane> PetalNumbers<L> {
    /// What moves a petal.
    #[inline(always)]
    pub fn motion(&self) -> PetalMotion<L> {
        let Self { stiffness, damping, load, contact, dissipation, stop, .. } = *self;
        PetalMotion { stiffness, damping, load, contact, dissipation, stop }
    }
}

lane_numbers! {
    /// What changes from segment to segment of the cycle, never inside a step.
    Phase {
        /// 1 from transfer opening to exhaust closing: the scavenging law applies.
        scavenging,
        /// Fresh mass at exhaust closing m_f [kg]; 0 before it is known.
        charge,
        /// Woschni C₁.
        woschni_speed,
        /// Woschni C₂·V_s·T_r/(p_r·V_r) [m/(s Pa)]; 0 before burning.
        woschni_burning,
        /// Pressure at exhaust closing [Pa].
        reference_pressure,
        /// Volume at exhaust closing [m³].
        reference_volume,
        /// 1 from the start to the end of burning.
        burning,
        /// 1 in general, 0 while transfer reverse flow is held back.
        reverse_gate,
    }
}

impl Default for Phase<f64> {
    fn default() -> Self {
        Self {
            scavenging: 0.0,
            charge: 0.0,
            burning: 0.0,
            woschni_speed: 0.0,
            woschni_burning: 0.0,
            reference_pressure: 1e5,
            reference_volume: 1e-4,
            reverse_gate: 1.0,
        }
    }
}

/// All numbers of a case.
#[derive(Debug, Clone)]
pub struct Numbers<L: Lane> {
    /// Kinematics.
    pub crank: Crank<L>,
    /// Gas.
    pub gas: Gas<L>,
    /// Plain numbers.
    pub figures: Figures<L>,
    /// Heat correlations.
    pub heat: HeatFigures<L>,
    /// Transfer groups.
    pub groups: Vec<GroupNumbers<L>>,
    /// Stages of petals.
    pub petals: Vec<PetalNumbers<L>>,
}

impl<L: Lane> Numbers<L> {
    /// The same case in every lane.
    #[must_use]
    pub fn splat(from: &Numbers<f64>) -> Self {
        Self {
            crank: from.crank.map(L::splat),
            gas: Gas::splat(&from.gas),
            figures: Figures::splat(&from.figures),
            heat: HeatFigures::splat(&from.heat),
            groups: from.groups.iter().map(GroupNumbers::splat).collect(),
            petals: from.petals.iter().map(PetalNumbers::splat).collect(),
        }
    }

    /// Puts a case into one lane.
    pub fn set_lane(&mut self, lane: usize, from: &Numbers<f64>) {
        self.crank.set_lane(lane, &from.crank);
        self.gas.set_lane(lane, &from.gas);
        self.figures.set_lane(lane, &from.figures);
        self.heat.set_lane(lane, &from.heat);
        for (group, numbers) in self.groups.iter_mut().zip(&from.groups) {
            group.set_lane(lane, numbers);
        }
        for (petal, numbers) in self.petals.iter_mut().zip(&from.petals) {
            petal.set_lane(lane, numbers);
        }
    }
}
