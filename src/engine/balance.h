/* Shaking forces and moments of the reciprocating masses, and the bobweight.
 *
 * Cylinder i is at b_i around the crank's axis and z_i along it; its piston is at top dead
 * centre when the crank is at a_i. To second order of R/L the pistons shake with
 *
 *   primary    m R w^2          sum cos(t - a_i)   u_i
 *   secondary  m R w^2 (R/L)    sum cos 2(t - a_i) u_i      u_i = exp(i b_i)
 *
 * Each sum is half a vector turning with the crank and half one turning against it, so that its
 * greatest value is (|sum exp i(b - k a)| + |sum exp i(b + k a)|) / 2 with k = 1 or 2; moments
 * take z_i with them. Higher orders, and the rotating masses that counterweights carry, are left
 * out. Source: J. P. Den Hartog, Mechanical Vibrations, ch. 5 (from memory).
 * Tests: tests/reference/engine/test_balance.c. */
#pragma once
#include "engine/engine.h"

#define EW_CYLINDERS_MAX 24

struct ew_cylinder_place {
  double tdc_deg;  /* crank angle of this piston's firing top dead centre, 0 to 720 */
  double bank_deg; /* axis of the cylinder around the crank */
  double along_m;  /* along the crank from the middle of the engine */
};

/* Per unit: forces over m R w^2 (primary) and m R w^2 R/L (secondary), moments in m on top. */
struct ew_shaking {
  double primary, secondary, primary_moment_m, secondary_moment_m;
};

/* 1 or 2: as given, else odd cylinders in bank 1 and even ones in bank 2; in-line engines have one. */
int ew_bank_of(const struct ew_engine *engine, guint cylinder); /* from 0 */
/* Fill one place a cylinder from layout, firing order, banks and spacing. FALSE when there is no
 * firing order. Which of the banks lies ahead in the crank's turning is taken from the crank: so that cylinders opposite
 * each other (the first of each bank, the second ...) share a pin, or as nearly as the firing allows. Without `banks` odd cylinders stand in bank 1, even ones in bank 2, and
 * *assumed is set; without bore spacing the places along the crank are NaN. */
gboolean ew_cylinder_places(const struct ew_engine *engine,
                            struct ew_cylinder_place places[EW_CYLINDERS_MAX], gboolean *assumed);
/* Crank degrees from each firing to the next, in firing order; `count` values. */
void ew_firing_intervals(const struct ew_engine *engine, const struct ew_cylinder_place *places,
                         double *intervals_deg);
/* Direction of a cylinder's crank throw when the crank is at zero (piston 1 at top dead centre), 0 to 360, in the
 * direction of turning from the middle between the banks. */
double ew_throw_deg(struct ew_cylinder_place place);
struct ew_shaking ew_shaking_of(const struct ew_cylinder_place *places, gsize count);
double ew_reciprocating_kg(const struct ew_engine_balance *balance); /* of one cylinder */
/* For one pin: rods (big end + bearing) + oil + share of rods x reciprocating mass. */
double ew_bobweight_kg(const struct ew_engine_balance *balance);
