/* A prediction on paper, two pages: the torque curve with its band and, under it, what was measured; then one cylinder over one
 * cycle: pressures at the ports and at the far ends of runner and primary with the valve events, pressure over volume (whole, and the
 * gas exchange enlarged), cylinder pressure and burned share. Draws what it is handed; NaN is left out. */
#pragma once
#include "base/units.h"
#include "sheet/page.h"

struct ew_inside_paper {
  const char *title, *stamp;
  enum ew_unit_system units;
  /* page 1: the curve. expanded and measured may be NULL */
  gsize speeds;
  const double *speed_rpm, *torque_n_m, *expanded_n_m;
  gsize measured;
  const double *measured_rpm, *measured_n_m;
  const char *measured_label;
  const GPtrArray *lines; /* char*: what is said under it */
  const char *caution;
  /* page 2: the cylinder, `degrees` values each, against angle_deg that rises by even steps */
  const char *heading, *about; /* of which cylinder at which speed; its figures */
  gsize degrees;
  const double *angle_deg, *cylinder_pa, *volume_m3, *burned;
  const double *inlet_port_pa, *inlet_far_pa, *exhaust_port_pa, *exhaust_far_pa;
  double opens_deg[2], closes_deg[2]; /* inlet, exhaust */
};
gboolean ew_inside_paper_draw(const struct ew_inside_paper *paper, const char *path,
                              enum ew_format format, enum ew_paper size, GError **error);
