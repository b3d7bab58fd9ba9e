/* job list, show, due, export: a job as it is now. */
#include "base/words.h"
#include "cli/job_call.h"
#include "desk/job_json.h"
#include "job/decimal.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const struct ew_option_spec book_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE}, {NULL, NULL, NULL, FALSE}};

/* ---- job list ---- */

static void say_short(const struct ew_job *job, const char *today) {
  const struct ew_job_wish *w = ew_job_last(job, EW_JOB_WISH);
  const struct ew_job_standing s = ew_job_standing_of(job);
  g_autofree char *total = s.quote ? ew_money_show(s.total) : g_strdup("-");
  g_autoptr(GArray) ordered = ew_job_ordered_of(job, today);
  guint late = 0;
  for (guint i = 0; i < ordered->len; i++)
    late += (guint)g_array_index(ordered, struct ew_job_ordered, i).late;
  ew_say("%4lld  %-24s %-10s %14s %-4s %s", (long long)job->id, job->name, ew_tr(ew_job_stage(job)),
         total, s.quote ? s.quote->currency : "", w && w->customer ? w->customer : "");
  if (w && w->by && !s.end && strcmp(w->by, today) < 0)
    ew_say("      was wanted by %s", w->by);
  if (late)
    ew_say(ew_tr_many("      %u line of its orders is late",
                      "      %u lines of its orders are late", late),
           late);
}

static gboolean run_list(const struct ew_call *call, GError **error) {
  char today[11];
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  g_autoptr(GArray) rows =
      book && ew_job_today(book, today, error) ? ew_job_list(book, error) : NULL;
  g_autoptr(GPtrArray) jobs = g_ptr_array_new_with_free_func((GDestroyNotify)ew_job_free);
  for (guint i = 0; rows && i < rows->len; i++) {
    struct ew_job *job = ew_job_load(book, g_array_index(rows, struct ew_job_row, i).id, error);
    if (!job)
      return FALSE;
    g_ptr_array_add(jobs, job);
  }
  if (!rows)
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_open_array(&json, "jobs");
    for (guint i = 0; i < jobs->len; i++) {
      ew_json_open(&json, NULL);
      ew_job_write_short(jobs->pdata[i], today, &json);
      ew_json_close(&json);
    }
    ew_json_close_array(&json);
    ew_answer_end(&json);
    return TRUE;
  }
  for (guint i = 0; i < jobs->len; i++)
    say_short(jobs->pdata[i], today);
  if (!jobs->len)
    ew_say("no job yet: 'job new NAME --customer NAME --wish TEXT' begins one");
  return TRUE;
}
const struct ew_command ew_command_job_list = {
    .name = "job list",
    .summary = EW_TEXT("The customers' jobs: how far each is, what it comes to, what is late"),
    .takes = "",
    .options = book_options,
    .run = run_list,
    .examples = "job list"};

/* ---- job show ---- */

static char *figure(enum ew_kind kind, enum ew_unit_system units, double value, int decimals) {
  return isnan(value) ? NULL : ew_quantity_format(kind, units, value, decimals);
}

static void say_figure(const char *name, char *value) {
  if (value)
    ew_say("  %-14s %s", ew_tr(name), value);
  g_free(value);
}

static void say_wish(const struct ew_job *job, enum ew_unit_system units) {
  const struct ew_job_wish *w = ew_job_last(job, EW_JOB_WISH);
  if (!w)
    return;
  ew_say("wish, record %lld: %s", (long long)w->mark.id, w->wish);
  say_figure(EW_TEXT("customer"), g_strdup(w->customer));
  say_figure(EW_TEXT("use"), g_strdup(w->use));
  say_figure(EW_TEXT("fuel"), g_strdup(w->fuel));
  say_figure(EW_TEXT("power"), figure(EW_KIND_POWER, units, w->power_w, 1));
  say_figure(EW_TEXT("at"), figure(EW_KIND_ROTATIONAL_SPEED, units, w->power_speed_rpm, 0));
  say_figure(EW_TEXT("torque"), figure(EW_KIND_TORQUE, units, w->torque_n_m, 0));
  say_figure(EW_TEXT("limit"), figure(EW_KIND_ROTATIONAL_SPEED, units, w->limit_rpm, 0));
  say_figure(EW_TEXT("idle"), figure(EW_KIND_ROTATIONAL_SPEED, units, w->idle_rpm, 0));
  say_figure(EW_TEXT("budget"), g_strdup(w->budget));
  say_figure(EW_TEXT("wanted by"), g_strdup(w->by));
}

static void say_lines(const GArray *lines) {
  for (guint i = 0; lines && i < lines->len; i++) {
    const struct ew_job_line *l = &g_array_index(lines, struct ew_job_line, i);
    g_autofree char *count = ew_count_show(l->quantity), *price = ew_money_show(l->price),
                    *sum = ew_money_show(ew_job_line_sum(l));
    ew_say("  %-36s %10s %-5s %12s %14s %s", l->name ? l->name : l->code, count,
           l->unit ? l->unit : "", price, sum, l->tax ? l->tax : "");
  }
}

static void say_money(const struct ew_job *job) {
  const struct ew_job_standing s = ew_job_standing_of(job);
  const struct ew_job_wish *w = ew_job_last(job, EW_JOB_WISH);
  const struct ew_job_change *c;
  const struct ew_job_sent *sent;
  gint64 budget;
  if (!s.quote)
    return;
  ew_say("quote %d of %s, record %lld, prices of version %d", s.quote->quote, s.quote->mark.day,
         (long long)s.quote->mark.id, s.quote->prices);
  say_lines(s.quote->mark.lines);
  EW_JOB_EACH(job, SENT, const struct ew_job_sent, sent, i) {
    ew_say("quote %d was sent on %s, record %lld", sent->quote, sent->mark.day,
           (long long)sent->mark.id);
  }
  if (s.agreed)
    ew_say("agreed: quote %d, signed by %s on %s, record %lld", s.agreed->quote, s.agreed->by,
           s.agreed->mark.day, (long long)s.agreed->mark.id);
  EW_JOB_EACH(job, CHANGE, const struct ew_job_change, c, i) {
    ew_say("change, signed by %s on %s, record %lld: %s", c->by, c->mark.day, (long long)c->mark.id,
           c->what);
    say_lines(c->mark.lines);
  }
  g_autofree char *all = ew_money_show(s.total);
  ew_say(s.agreed ? EW_TEXT("in all %s %s, tax as each line says")
                  : EW_TEXT("in all %s %s, tax as each line says; not agreed yet"),
         all, s.quote->currency);
  if (w && w->budget && ew_decimal_read(w->budget, &budget) == 0 && budget < s.total)
    ew_say("caution: more than the budget, %s", w->budget);
}

static void say_orders(const struct ew_job *job, const char *today) {
  g_autoptr(GArray) rows = ew_job_ordered_of(job, today), left = ew_job_to_order(job);
  const struct ew_job_standing s = ew_job_standing_of(job);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_job_ordered *o = &g_array_index(rows, struct ew_job_ordered, i);
    g_autofree char *came = ew_count_show(o->came), *of = ew_count_show(o->line->quantity);
    if (i == 0 || o->order != g_array_index(rows, struct ew_job_ordered, i - 1).order)
      ew_say("order %d of %s, record %lld: %s", o->order->order, o->order->mark.day,
             (long long)o->order->mark.id, o->order->supplier ? o->order->supplier : "-");
    ew_say("  %-16s %-36s %s of %s%s%s%s",
           o->line->supplier_number ? o->line->supplier_number : o->line->code,
           o->line->name ? o->line->name : "", came, of, o->due[0] ? ew_tr(", due ") : "", o->due,
           o->late ? ew_tr(": late") : "");
  }
  if (s.agreed && left->len)
    ew_say(ew_tr_many("%u part is not ordered yet: 'job order'",
                      "%u parts are not ordered yet: 'job order'", left->len),
           left->len);
}

static void say_hours(const struct ew_job *job) {
  g_autoptr(GArray) rows = ew_job_work_of(job);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_job_work *w = &g_array_index(rows, struct ew_job_work, i);
    double quoted = (double)w->quoted / EW_DECIMAL_ONE, spent = w->spent_s / 3600;
    if (i == 0)
      ew_say("hours");
    if (w->quoted == 0)
      ew_say("  %-36s %.1f h, not in the quote", w->name ? w->name : w->code, spent);
    else
      ew_say(spent > quoted ? EW_TEXT("  %-36s %.1f h of %.1f h: over the quote")
                            : EW_TEXT("  %-36s %.1f h of %.1f h"),
             w->name ? w->name : w->code, spent, quoted);
  }
}

static void say_proof(const struct ew_job *job, const struct ew_job_proof *p,
                      enum ew_unit_system units) {
  const struct ew_job_engine *e = ew_job_last(job, EW_JOB_ENGINE);
  if (!e) {
    ew_say("engine: not named yet: 'job engine'");
    return;
  }
  ew_say("engine %s, record %lld", e->engine, (long long)e->mark.id);
  g_autofree char *promised = figure(EW_KIND_POWER, units, p->agreed_power_w, 1),
                  *proved = figure(EW_KIND_POWER, units, p->power_w, 1),
                  *torque = figure(EW_KIND_TORQUE, units, p->agreed_torque_n_m, 0),
                  *turned = figure(EW_KIND_TORQUE, units, p->torque_n_m, 0);
  if (promised)
    ew_say("  power: promised %s, proved %s", promised, proved ? proved : "-");
  if (torque)
    ew_say("  torque: promised %s, proved %s", torque, turned ? turned : "-");
  if (p->pulls)
    ew_say(ew_tr_many("  by the last %d pull; 'sheet report' says how certain",
                      "  by the mean of the last %d like pulls; 'sheet report' says how certain",
                      (guint64)p->pulls),
           p->pulls);
  if (p->invented)
    ew_say("caution: these pulls are of the practice cell, an invented engine: they prove nothing "
           "of this one");
  if (p->otherwise)
    ew_say("caution: the build record says otherwise than the wish and the changes here; its "
           "figures count");
}

static void say_job(const struct ew_job *job, const struct ew_job_proof *proof, const char *today,
                    enum ew_unit_system units) {
  const struct ew_job_end *end = ew_job_last(job, EW_JOB_END);
  ew_say("job %lld, %s, begun on %s: %s", (long long)job->id, job->name, job->day,
         ew_tr(ew_job_stage(job)));
  say_wish(job, units);
  say_money(job);
  say_orders(job, today);
  say_hours(job);
  say_proof(job, proof, units);
  if (end)
    ew_say("%s on %s, record %lld", ew_tr(ew_job_how_names[end->how]), end->mark.day,
           (long long)end->mark.id);
}

static gboolean show(const struct ew_call *call, struct ew_desk *desk, GError **error) {
  char today[11];
  struct ew_job_proof proof;
  g_autoptr(ew_job) job = ew_job_get(desk->book, ew_call_argument(call, 0), error);
  if (!job || !ew_job_today(desk->book, today, error) || !ew_job_proof(desk, job, &proof, error))
    return FALSE;
  if (!call->json) {
    say_job(job, &proof, today, call->units);
    return TRUE;
  }
  struct ew_json json = ew_answer_begin();
  gboolean good = ew_job_write(desk, job, today, &json, error);
  if (good)
    ew_answer_end(&json);
  else
    g_string_free(json.text, TRUE);
  return good;
}

static gboolean run_show(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_desk desk = {0};
  if (!book || !ew_desk_open(&desk, book, error))
    return FALSE;
  gboolean good = show(call, &desk, error);
  ew_desk_clear(&desk);
  return good;
}
const struct ew_command ew_command_job_show = {
    .name = "job show",
    .summary = EW_TEXT("A job: wish, quote and changes, orders, hours, promise against proof"),
    .takes = EW_TEXT("JOB"),
    .least = 1,
    .most = 1,
    .options = book_options,
    .run = run_show,
    .examples = "job show \"summer six\""};

/* ---- job due ---- */

static void write_due(const void *row, struct ew_json *json) {
  const struct ew_job_due *d = row;
  ew_json_integer(json, "job", d->job_id);
  ew_json_text(json, "name", d->job);
  ew_json_text(json, "what", d->what);
  ew_json_text(json, "from", d->of_build ? "build" : "job");
  ew_json_number(json, "used_s", d->used_s);
  ew_json_number(json, "life_s", d->life_s);
  ew_json_text(json, "by", d->by[0] ? d->by : NULL);
  ew_json_boolean(json, "due", d->due);
}

static void say_due(const void *row) {
  const struct ew_job_due *d = row;
  g_autofree char *running = isnan(d->life_s) ? g_strdup("")
                                              : ew_words(", %.1f h of %.1f h", d->used_s / 3600,
                                                         d->life_s / 3600),
                  *by = d->by[0] ? ew_words(", by %s", d->by) : g_strdup("");
  ew_say("%s  %s: %s%s%s", d->due ? ew_tr("due") : ew_tr("later"), d->job, d->what, running, by);
}

static gboolean run_due(const struct ew_call *call, GError **error) {
  const char *job = call->arguments->len ? ew_call_argument(call, 0) : NULL;
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  g_autoptr(GArray) rows = book ? ew_job_due_list(book, job, error) : NULL;
  if (!rows)
    return FALSE;
  ew_answer_rows(call, "due", rows, write_due, say_due);
  if (!call->json && !rows->len)
    ew_say("no reminder, and no part with a life: 'job remind' sets one");
  return TRUE;
}
const struct ew_command ew_command_job_due = {
    .name = "job due",
    .summary =
        EW_TEXT("Reminders of jobs, and parts of their builds by their life; due ones first"),
    .takes = EW_TEXT("[JOB]"),
    .least = 0,
    .most = 1,
    .options = book_options,
    .run = run_due,
    .examples = "job due"};

/* ---- job export ---- */

static gboolean run_export(const struct ew_call *call, GError **error) {
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  g_autoptr(ew_job) job = book ? ew_job_get(book, ew_call_argument(call, 0), error) : NULL;
  if (!job)
    return FALSE;
  g_autofree char *text = ew_job_table(job);
  fputs(text, stdout);
  return TRUE;
}
const struct ew_command ew_command_job_export = {
    .name = "job export",
    .prints_text = TRUE,
    .summary = EW_TEXT("Quote, changes, orders, deliveries and hours as a table for the accounts"),
    .takes = EW_TEXT("JOB"),
    .least = 1,
    .most = 1,
    .options = book_options,
    .run = run_export,
    .examples = "job export \"summer six\" > accounts.csv"};
