/* The pages of the engine, a part each: what matters first, what else belongs there, and which figures follow from it. Every field of the
 * server's table has a page: what is named nowhere here stands under "all" of the page of its group. */
import type { FieldGroup } from './api';

export interface Part { key: string; title: string; first: string[]; rest: string[]; sections: string[] }

const sides = (names: string[]) => ['inlet', 'exhaust'].flatMap((side) => names.map((name) => `${side}.${name}`));

export const PARTS: Part[] = [
  { key: 'short', title: 'What is agreed', first: ['name', 'serial', 'owner', 'cylinders', 'bore', 'stroke', 'fuel', 'agreed_limit', 'breathing.expected_power', 'breathing.power_speed', 'breathing.expected_torque', 'breathing.torque_speed'],
    rest: ['equipment', 'strokes', 'displacement'], sections: ['Size and piston', 'Test stand'] },
  { key: 'block', title: 'Block and crank', first: ['bore', 'stroke', 'geometry.rod_length', 'geometry.layout', 'geometry.bank_angle', 'geometry.firing_order', 'rod_limit', 'crank_limit'],
    rest: ['damper_limit', 'inertia', 'cooling'], sections: ['Size and piston', 'Balance'] },
  { key: 'head', title: 'Head and valves', first: ['head', 'compression.chambers', 'compression.gasket_thickness', 'compression.gasket_bore', 'compression.deck', 'compression.dish', ...sides(['head_diameter', 'throat_diameter'])],
    rest: ['plugs', ...sides(['valves', 'stem_diameter', 'seat_width', 'seat_angle', 'valve_angle', 'flow_lifts', 'flows', 'flow_depression', 'flow_temperature', 'flow_pressure', 'piston_gap'])], sections: ['Compression'] },
  { key: 'cam', title: 'Cam', first: ['cam.lobe_separation', 'cam.inlet_centreline', ...sides(['lobe_lift', 'check_duration', 'duration', 'lash'])],
    rest: sides(['gross_lift', 'duration_lift', 'check_lift', 'opens', 'closes', 'ramp_height', 'ramp_length', 'lobe_angles', 'lobe_readings', 'reading_resolution']), sections: ['Camshaft'] },
  { key: 'train', title: 'Valve train', first: ['cam.lifter', 'valve_train_limit', ...sides(['rocker_ratio', 'spring_height', 'spring_force', 'spring_rate', 'spring_bind', 'valve_mass'])], rest: [], sections: ['Inlet valves', 'Exhaust valves'] },
  { key: 'intake', title: 'Inlet', first: ['breathing.runner_length', 'breathing.runner_diameter', 'breathing.throttles', 'breathing.throttle_diameter', 'breathing.plenum', 'breathing.air_cleaner'],
    rest: ['breathing.carburettor_flow', 'breathing.carburettor_depression', 'breathing.throttle_speed', 'breathing.runner_bends', 'breathing.inlet_wall', 'breathing.cleaner_depression', 'breathing.volumetric_efficiency', 'breathing.air_pressure', 'breathing.air_temperature'], sections: ['Breathing'] },
  { key: 'exhaust', title: 'Exhaust', first: ['breathing.primary_length', 'breathing.primary_diameter', 'breathing.collector_length', 'breathing.collector_diameter', 'breathing.exhaust_end'],
    rest: ['breathing.primary_bends', 'breathing.back_pressure', 'breathing.exhaust_temperature'], sections: ['Breathing'] },
  { key: 'fuel', title: 'Fuel and ignition', first: ['fuel', 'octane', 'lambda_target', 'fuel_system.injectors', 'fuel_system.injector_flow', 'fuel_system.fuel_pressure', 'fuel_system.pump_flow', 'idle_speed'],
    rest: ['stoichiometric_ratio', 'plugs'], sections: ['Fuel'] },
  { key: 'stand', title: 'Test stand', first: ['inertia', 'torsion.coupling_stiffness', 'torsion.absorber_torque', 'torsion.absorber_speed'], rest: [], sections: ['Test stand', 'Shaft line'] },
];
const HOME: Record<string, string> = { '': 'short', geometry: 'block', balance: 'block', compression: 'head', cam: 'cam', degree_in: 'cam', inlet: 'train', exhaust: 'train', breathing: 'intake', fuel_system: 'fuel', torsion: 'stand' };

export const pathOf = (group: string, name: string) => group ? `${group}.${name}` : name;

/** The page on which a field is first met; by its group when no page names it. */
export function partOf(path: string): string {
  const named = PARTS.find((p) => p.first.includes(path)) ?? PARTS.find((p) => p.rest.includes(path));
  return named?.key ?? HOME[path.includes('.') ? path.split('.')[0]! : ''] ?? 'short';
}
/** All that a page shows behind "all": what it names, and what nobody names. */
export function restOf(part: Part, groups: FieldGroup[]): string[] {
  const named = new Set(PARTS.flatMap((p) => [...p.first, ...p.rest]));
  const left = groups.flatMap((g) => g.fields.map((f) => pathOf(g.key, f.name))).filter((path) => !named.has(path) && partOf(path) === part.key);
  return [...part.rest, ...left].filter((path) => !part.first.includes(path));
}

/* Figures that are looked at first; all others of a section stand behind "all". */
export const FIRST_FIGURES = new Set(['displacement_m3', 'bore_over_stroke', 'rod_ratio', 'top_speed_rpm', 'mean_piston_speed_m_s', 'piston_acceleration_tdc_m_s2', 'reciprocating_mass_kg', 'rod_tension_top_n', 'bobweight_kg',
  'torsional_frequencies_hz', 'lobe_separation_deg', 'inlet_centreline_deg', 'cam_advance_deg', 'overlap_area_m2_deg', 'inlet_net_lift_m', 'inlet_spring_force_open_n', 'inlet_coil_bind_gap_m', 'inlet_retainer_to_seal_gap_m', 'inlet_contact_loss_speed_rpm',
  'exhaust_net_lift_m', 'exhaust_spring_force_open_n', 'exhaust_coil_bind_gap_m', 'exhaust_retainer_to_seal_gap_m', 'exhaust_contact_loss_speed_rpm', 'compression_ratio', 'compression_ratio_spread', 'quench_m', 'effective_compression_ratio', 'cranking_pressure_pa', 'ratio_fuel_stands',
  'air_flow_top_kg_s', 'inlet_mach_index', 'throttle_diameter_needed_m', 'inlet_tuned_speed_rpm', 'primary_tuned_speed_rpm', 'fuel_flow_kg_s', 'pump_needed_m3_s', 'injector_needed_m3_s', 'injector_duty', 'jet_diameter_wanted_m', 'torque_at_power_n_m', 'bmep_at_power_pa', 'absorber_water_kg_s']);
