/* The test report: who, what, when, under which conditions, what came out, how sure it is, and the
 * digests it can be traced by. Draws what it is handed. */
#pragma once
#include "base/units.h"
#include "pull/curve.h"
#include "sheet/flow.h"

struct ew_report_pair {
  char *label, *value;
};

/* A picture whose bytes were checked, to show in the HTML report. */
struct ew_report_photo {
  const char *media; /* static */
  GBytes *bytes;
  char *caption;
};

struct ew_report {
  struct ew_flow_head head; /* `about` stands among the facts */
  enum ew_unit_system units;
  GArray *
      facts; /* struct ew_report_pair: engine, customer, conditions, factor, equipment; labels in English */
  GPtrArray
      *curves; /* const struct ew_curve*: the pulls that are shown; the mean of all is the result */
  GPtrArray *results;  /* char*: lines of the result, "peak power 198 ± 3 kW at 6,600 rpm" */
  GPtrArray *changes;  /* char*: what was changed between pulls, and the verdicts */
  GPtrArray *cautions; /* char*: out of range, expired calibration, discarded pulls */
  GArray *budget;      /* struct ew_report_pair */
  GPtrArray *digests;  /* char* */
  GArray *photos;      /* struct ew_report_photo, or NULL; only in HTML */
  double
      expanded_relative; /* expanded uncertainty of torque, relative; for the band and the table */
};

gboolean ew_report_draw(const struct ew_report *report, const char *path, enum ew_format format,
                        enum ew_paper paper, GError **error);
void ew_report_clear(struct ew_report *report); /* what its arrays own */
