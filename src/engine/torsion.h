/* Torsional natural frequencies of engine, coupling, shaft and absorber, and critical speeds.
 *
 * Inertias in a row, springs between them, no damping: K v = (2 pi f)^2 J v, made symmetric with
 * J^-1/2 and solved by GSL. For two inertias f = sqrt(k (1/J1 + 1/J2)) / 2 pi. An order of h
 * vibrations a turn meets f at 60 f / h rpm. The engine counts as one rigid inertia: its crank's own
 * torsion lies far higher and is the damper maker's matter.
 *
 * The range to keep out of for longer than passing through: from 16 c / (18 - l) to (18 - l) c / 16
 * with l = c / top speed, after IACS UR M68 (from memory), which is written for ships' shafts; it
 * is used here as a yardstick, and the coupling maker's figures come before it.
 * Tests: tests/reference/engine/test_torsion.c. */
#pragma once
#include "engine/engine.h"

#define EW_TORSION_MAX 8 /* inertias in a row */

/* The count - 1 frequencies above zero, rising. 2 <= count <= EW_TORSION_MAX; all inertias and
 * stiffnesses must be positive. */
void ew_torsion_frequencies_hz(const double *inertia_kg_m2, const double *stiffness_n_m_rad,
                               gsize count, double *frequencies_hz);
/* Engine and absorber with what lies between; the number of frequencies, 0 when too little is
 * given. Two inertias, or three when the shaft has a stiffness of its own. */
gsize ew_torsion_of(const struct ew_engine *engine, double frequencies_hz[EW_TORSION_MAX]);

struct ew_barred_range {
  double order, critical_rpm, from_rpm, to_rpm;
  gboolean strong; /* excited with all cylinders alike, or with every second one differing */
};
struct ew_barred_range ew_barred_range_of(double frequency_hz, double order, double top_speed_rpm);
/* Orders of gas torque: half orders for a four-stroke engine, whole ones for a two-stroke, up to
 * twice the firing order. Main and half of main are marked strong. Ranges whose critical speed lies
 * above the top speed or below a tenth of it are left out. The number written, at most `room`. */
gsize ew_barred_ranges(const struct ew_engine *engine, const double *frequencies_hz, gsize count,
                       double top_speed_rpm, struct ew_barred_range *ranges, gsize room);
