/* The test report. Its first sheet is for the customer and is always one page: whose engine, what was promised and what
 * was proved, under which conditions, how sure it is, what was found, and who signs. The shop's appendix follows when
 * it is asked for: every figure, every change and answer, the budget, and the digests it can be traced by. Draws what it
 * is handed. */
#pragma once
#include "base/units.h"
#include "pull/curve.h"
#include "sheet/flow.h"

enum ew_report_reader { EW_REPORT_CUSTOMER, EW_REPORT_SHOP, EW_REPORT_READERS_COUNT };
extern const char *const ew_report_reader_keys[]; /* "customer", "shop", NULL */
gboolean ew_report_reader_find(const char *key, enum ew_report_reader *reader);

struct ew_report_pair {
  char *label, *value;
  gboolean shop; /* stands in the appendix */
};

#define EW_REPORT_VALUE_CHARS 220 /* of one fact, or one line of HTML, on the customer's page */
/* Does it stand there? What is cut on the customer's page stands whole in the appendix. */
gboolean ew_report_pair_is_of(const struct ew_report_pair *pair, enum ew_report_reader reader);

/* A promise beside what was proved; texts as they are shown. */
struct ew_report_promise {
  char *what, *promised, *proved, *answer;
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
  enum ew_report_reader reader;
  GArray *promises; /* struct ew_report_promise; empty: nothing was agreed */
  GPtrArray *
      notices; /* char*: what the customer must know before he believes a figure, the grave first */
  GPtrArray *found;            /* char*: what was seen or heard, and what was looked at */
  const char *columns;         /* keys of the table's columns with commas; NULL: the usual ones */
  double stoichiometric_ratio; /* of the fuel, for air-fuel ratios; NaN: not known */
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
/* Refuses a column that there is none of, and one that no pull of the report has. */
gboolean ew_report_columns_check(const struct ew_report *report, GError **error);
void ew_report_clear(struct ew_report *report); /* what its arrays own */
