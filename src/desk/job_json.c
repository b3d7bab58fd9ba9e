/* Written from the job alone, but for the proof, which is the build's. */
#include "desk/job_json.h"
#include "base/as_pointer.h"
#include "base/language.h"
#include "build/check.h"
#include "desk/build.h"
#include "job/decimal.h"
#include <math.h>
#include <string.h>

const char *ew_job_stage(const struct ew_job *job) {
  const struct ew_job_end *end = ew_job_last(job, EW_JOB_END);
  return end && end->how == EW_JOB_CANCELLED ? EW_TEXT("cancelled")
         : end                               ? EW_TEXT("shipped")
         : job->records[EW_JOB_ORDER]->len   ? EW_TEXT("ordered")
         : job->records[EW_JOB_AGREED]->len  ? EW_TEXT("agreed")
         : job->records[EW_JOB_QUOTE]->len   ? EW_TEXT("quote")
                                             : EW_TEXT("wish");
}

static void write_money(struct ew_json *json, const char *key, gint64 value) {
  char buffer[EW_DECIMAL_SIZE];
  ew_json_text(json, key, ew_decimal_write(value, buffer));
}

static void write_totals(const struct ew_job *job, struct ew_json *json) {
  const struct ew_job_standing s = ew_job_standing_of(job);
  ew_json_open(json, "total");
  ew_json_text(json, "currency", s.quote ? s.quote->currency : NULL);
  if (s.quote)
    ew_json_integer(json, "quote", s.quote->quote);
  ew_json_boolean(json, "agreed", s.agreed != NULL);
  write_money(json, "parts", s.quoted.parts);
  write_money(json, "labour", s.quoted.labour);
  write_money(json, "changes", s.changes.parts + s.changes.labour);
  write_money(json, "all", s.total);
  ew_json_close(json);
}

void ew_job_write_short(const struct ew_job *job, const char *today, struct ew_json *json) {
  const struct ew_job_wish *w = ew_job_last(job, EW_JOB_WISH);
  const struct ew_job_engine *e = ew_job_last(job, EW_JOB_ENGINE);
  g_autoptr(GArray) ordered = ew_job_ordered_of(job, today);
  int late = 0;
  for (guint i = 0; i < ordered->len; i++)
    late += g_array_index(ordered, struct ew_job_ordered, i).late;
  ew_json_integer(json, "id", job->id);
  ew_json_text(json, "job", job->name);
  ew_json_text(json, "day", job->day);
  ew_json_text(json, "stage", ew_job_stage(job));
  ew_json_text(json, "customer", w ? w->customer : NULL);
  ew_json_text(json, "wish", w ? w->wish : NULL);
  ew_json_text(json, "by", w ? w->by : NULL);
  ew_json_text(json, "engine", e ? e->engine : NULL);
  ew_json_integer(json, "late", late);
  write_totals(job, json);
}

static void write_records(const struct ew_job *job, struct ew_json *json) {
  ew_json_open(json, "records");
  for (int k = EW_JOB_WISH; k < EW_JOB_KINDS_COUNT; k++) {
    ew_json_open_array(json, ew_job_kind_key((enum ew_job_kind)k));
    for (guint i = 0; i < job->records[k]->len; i++) {
      const struct ew_job_mark *mark = job->records[k]->pdata[i];
      ew_json_open(json, NULL);
      ew_job_record_json((enum ew_job_kind)k, mark, json);
      ew_json_text(json, "day", mark->day);
      ew_json_close(json);
    }
    ew_json_close_array(json);
  }
  ew_json_close(json);
}

static void write_ordered(const void *row, struct ew_json *json) {
  const struct ew_job_ordered *o = row;
  ew_json_integer(json, "order", o->order->order);
  ew_json_text(json, "supplier", o->line->supplier);
  ew_json_text(json, "supplier_number", o->line->supplier_number);
  ew_json_text(json, "code", o->line->code);
  ew_json_text(json, "name", o->line->name);
  write_money(json, "quantity", o->line->quantity);
  write_money(json, "come", o->came);
  ew_json_text(json, "due", o->due[0] ? o->due : NULL);
  ew_json_boolean(json, "late", o->late);
}

static void write_work(const void *row, struct ew_json *json) {
  const struct ew_job_work *w = row;
  ew_json_text(json, "code", w->code);
  ew_json_text(json, "name", w->name);
  ew_json_number(json, "quoted_s", (double)w->quoted / EW_DECIMAL_ONE * 3600);
  ew_json_number(json, "spent_s", w->spent_s);
}

static void write_sums(const struct ew_job *job, const char *today, struct ew_json *json) {
  g_autoptr(GArray) ordered = ew_job_ordered_of(job, today), work = ew_job_work_of(job),
                    left = ew_job_to_order(job);
  ew_json_rows(json, "ordered", ordered, write_ordered);
  ew_json_open(json, "to_order");
  ew_job_lines_json(left, json);
  ew_json_close(json);
  ew_json_rows(json, "work", work, write_work);
}

/* ---- promise and proof ---- */

static void promise_of(const struct ew_job *job, double figures[4]) {
  const struct ew_job_wish *w = ew_job_last(job, EW_JOB_WISH);
  const struct ew_job_change *c;
  const double wished[] = {w ? w->power_w : NAN, w ? w->power_speed_rpm : NAN,
                           w ? w->torque_n_m : NAN, w ? w->limit_rpm : NAN};
  memcpy(figures, wished, sizeof wished);
  EW_JOB_EACH(job, CHANGE, const struct ew_job_change, c, i) {
    const double changed[] = {c->power_w, c->power_speed_rpm, c->torque_n_m, c->limit_rpm};
    for (int k = 0; k < 4; k++)
      if (!isnan(changed[k]))
        figures[k] = changed[k];
  }
}

static gboolean differs(double a, double b) {
  return isnan(a) != isnan(b) || fabs(a - b) > 1e-6 * fabs(a);
}

gboolean ew_job_proof(struct ew_desk *desk, const struct ew_job *job, struct ew_job_proof *p,
                      GError **error) {
  GError *problem = NULL;
  double promised[4];
  struct ew_build_result result;
  *p = (struct ew_job_proof){.agreed_power_w = NAN,
                             .agreed_power_speed_rpm = NAN,
                             .agreed_torque_n_m = NAN,
                             .agreed_limit_rpm = NAN,
                             .power_w = NAN,
                             .power_speed_rpm = NAN,
                             .torque_n_m = NAN,
                             .highest_rpm = NAN};
  g_autoptr(ew_build) build = ew_job_build(desk->book, job, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  if (!build)
    return TRUE;
  const struct ew_build_agreed now = ew_build_agreed_now(build);
  if (!ew_build_result_of(desk, build->engine_id, &result, error))
    return FALSE;
  p->has_build = TRUE;
  p->agreed_power_w = now.power_w;
  p->agreed_power_speed_rpm = now.power_speed_rpm;
  p->agreed_torque_n_m = now.torque_n_m;
  p->agreed_limit_rpm = now.limit_rpm;
  p->power_w = result.power_w;
  p->power_speed_rpm = result.power_speed_rpm;
  p->torque_n_m = result.torque_n_m;
  p->highest_rpm = result.highest_rpm;
  p->pulls = result.pulls;
  p->invented = result.invented;
  promise_of(job, promised);
  p->otherwise = job->records[EW_JOB_AGREED]->len &&
                 (differs(promised[0], now.power_w) || differs(promised[1], now.power_speed_rpm) ||
                  differs(promised[2], now.torque_n_m) || differs(promised[3], now.limit_rpm));
  return TRUE;
}

static void write_proof(const struct ew_job_proof *p, struct ew_json *json) {
  ew_json_open(json, "proof");
  ew_json_boolean(json, "has_build", p->has_build);
  ew_json_number(json, "agreed_power_w", p->agreed_power_w);
  ew_json_number(json, "agreed_power_speed_rpm", p->agreed_power_speed_rpm);
  ew_json_number(json, "agreed_torque_n_m", p->agreed_torque_n_m);
  ew_json_number(json, "agreed_limit_rpm", p->agreed_limit_rpm);
  ew_json_integer(json, "pulls", p->pulls);
  ew_json_boolean(json, "invented", p->invented);
  ew_json_number(json, "power_w", p->power_w);
  ew_json_number(json, "power_speed_rpm", p->power_speed_rpm);
  ew_json_number(json, "torque_n_m", p->torque_n_m);
  ew_json_number(json, "highest_rpm", p->highest_rpm);
  ew_json_boolean(json, "build_says_otherwise", p->otherwise);
  ew_json_close(json);
}

gboolean ew_job_write(struct ew_desk *desk, const struct ew_job *job, const char *today,
                      struct ew_json *json, GError **error) {
  struct ew_job_proof proof;
  if (!ew_job_proof(desk, job, &proof, error))
    return FALSE;
  ew_job_write_short(job, today, json);
  write_records(job, json);
  write_sums(job, today, json);
  write_proof(&proof, json);
  return TRUE;
}

/* ---- for a spreadsheet ---- */

struct table_row {
  const char *what, *day, *currency;
  int number;
  const struct ew_job_line *line;
};

static void append_row(GString *text, const struct ew_job *job, const struct table_row *r) {
  char price[EW_DECIMAL_SIZE], quantity[EW_DECIMAL_SIZE], sum[EW_DECIMAL_SIZE], number[16] = "";
  const struct ew_job_line *l = r->line;
  if (r->number)
    g_snprintf(number, sizeof number, "%d", r->number);
  const char *cells[] = {job->name,
                         r->what,
                         number,
                         r->day,
                         l->code,
                         l->name,
                         l->labour ? "labour" : "part",
                         l->unit,
                         ew_decimal_write(l->quantity, quantity),
                         ew_decimal_write(l->price, price),
                         ew_decimal_write(ew_job_line_sum(l), sum),
                         r->currency,
                         l->tax,
                         l->supplier,
                         l->supplier_number};
  for (gsize k = 0; k < G_N_ELEMENTS(cells); k++)
    ew_csv_append(text, cells[k], k == 0);
  g_string_append_c(text, '\n');
}

static void append_lines(GString *text, const struct ew_job *job, enum ew_job_kind kind,
                         const struct ew_job_mark *mark, int number, const char *currency) {
  for (guint i = 0; mark->lines && i < mark->lines->len; i++) {
    const struct table_row row = {ew_job_kind_key(kind), mark->day, currency, number,
                                  &g_array_index(mark->lines, struct ew_job_line, i)};
    append_row(text, job, &row);
  }
}

char *ew_job_table(const struct ew_job *job) {
  GString *text = g_string_new("job,what,number,day,code,name,kind,unit,quantity,price,sum,"
                               "currency,tax,supplier,supplier_number\n");
  const struct ew_job_standing s = ew_job_standing_of(job);
  const char *currency = s.quote ? s.quote->currency : NULL;
  const struct ew_job_change *change;
  const struct ew_job_order *order;
  const struct ew_job_came *came;
  const struct ew_job_hours *hours;
  g_autoptr(GArray) wanted = ew_job_wanted(job);
  if (s.quote)
    append_lines(text, job, EW_JOB_QUOTE, &s.quote->mark, s.quote->quote, currency);
  EW_JOB_EACH(job, CHANGE, const struct ew_job_change, change, i) {
    append_lines(text, job, EW_JOB_CHANGE, &change->mark, (int)i + 1, currency);
  }
  EW_JOB_EACH(job, ORDER, const struct ew_job_order, order, i) {
    append_lines(text, job, EW_JOB_ORDER, &order->mark, order->order, currency);
  }
  EW_JOB_EACH(job, CAME, const struct ew_job_came, came, i) {
    append_lines(text, job, EW_JOB_CAME, &came->mark, came->order, currency);
  }
  EW_JOB_EACH(job, HOURS, const struct ew_job_hours, hours, i) {
    const struct ew_job_line *of = ew_job_line_of(wanted, hours->code);
    struct ew_job_line line = of ? *of : (struct ew_job_line){.code = hours->code, .labour = TRUE};
    line.unit = ew_as_pointer("h");
    line.quantity = (gint64)llround(hours->spent_s / 3600 * EW_DECIMAL_ONE);
    const struct table_row row = {ew_job_kind_key(EW_JOB_HOURS), hours->mark.day, currency, 0,
                                  &line};
    append_row(text, job, &row);
  }
  return g_string_free(text, FALSE);
}
