/* A job as a program reads it, for the command line and the page alike; and as a table for a spreadsheet. */
#pragma once
#include "desk/job.h"

/* Members of an open object: everything of the job, what it adds up to, what is late on `today`; what was agreed by its build record
 * and what the dyno showed. Money and quantities are texts with a point, exact. FALSE with *error when the book fails. */
gboolean ew_job_write(struct ew_desk *desk, const struct ew_job *job, const char *today,
                      struct ew_json *json, GError **error);
/* A line of a list. */
void ew_job_write_short(const struct ew_job *job, const char *today, struct ew_json *json);
/* "wish", "quote", "agreed", "ordered", "shipped", "cancelled": how far it is. A key and a text of the catalogue. */
const char *ew_job_stage(const struct ew_job *job);
/* Quote, changes, orders, what has come and hours, a row each, comma-separated. To be freed. */
char *ew_job_table(const struct ew_job *job);

/* Promise against proof, of the build record's one agreement. NaN: not agreed, not run. */
struct ew_job_proof {
  gboolean has_build;
  double agreed_power_w, agreed_power_speed_rpm, agreed_torque_n_m, agreed_limit_rpm;
  double power_w, power_speed_rpm, torque_n_m, highest_rpm;
  int pulls;
  gboolean invented;  /* pulls of the practice cell: they prove nothing */
  gboolean otherwise; /* the build record says otherwise than this job's wish and changes */
};
gboolean ew_job_proof(struct ew_desk *desk, const struct ew_job *job, struct ew_job_proof *proof,
                      GError **error);
