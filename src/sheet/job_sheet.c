/* Sums are those of job/sums.h, to a cent; every amount is set as the reader writes figures. */
#include "sheet/job_sheet.h"
#include "base/language.h"
#include "base/units.h"
#include "base/words.h"
#include "job/decimal.h"
#include <math.h>

static void add(GPtrArray *cells, char *text) {
  g_ptr_array_add(cells, text ? text : g_strdup(""));
}

static void add_pair(GPtrArray *pairs, const char *label, char *value) {
  if (!value || !*value) {
    g_free(value);
    return;
  }
  g_ptr_array_add(pairs, g_strdup(label));
  g_ptr_array_add(pairs, value);
}

static char *figure(enum ew_kind kind, enum ew_unit_system units, double value, int decimals) {
  return isnan(value) ? NULL : ew_quantity_format(kind, units, value, decimals);
}

/* "195 kW at 6,000 rpm" */
static char *power_text(double power_w, double speed_rpm, enum ew_unit_system units) {
  g_autofree char *power = figure(EW_KIND_POWER, units, power_w, 0),
                  *at = figure(EW_KIND_ROTATIONAL_SPEED, units, speed_rpm, 0);
  return !power ? NULL : at ? ew_words("%s at %s", power, at) : g_strdup(power);
}

static void draw_wish(struct ew_flow *flow, const struct ew_job_paper *p) {
  const struct ew_job_wish *w = ew_job_last(p->job, EW_JOB_WISH);
  g_autoptr(GPtrArray) pairs = g_ptr_array_new_with_free_func(g_free);
  if (!w)
    return;
  add_pair(pairs, EW_TEXT("for"), g_strdup(w->customer));
  add_pair(pairs, EW_TEXT("wish"), g_strdup(w->wish));
  add_pair(pairs, EW_TEXT("use"), g_strdup(w->use));
  add_pair(pairs, EW_TEXT("fuel"), g_strdup(w->fuel));
  add_pair(pairs, EW_TEXT("power"), power_text(w->power_w, w->power_speed_rpm, p->units));
  add_pair(pairs, EW_TEXT("torque"), figure(EW_KIND_TORQUE, p->units, w->torque_n_m, 0));
  add_pair(pairs, EW_TEXT("highest speed"),
           figure(EW_KIND_ROTATIONAL_SPEED, p->units, w->limit_rpm, 0));
  add_pair(pairs, EW_TEXT("idle speed"),
           figure(EW_KIND_ROTATIONAL_SPEED, p->units, w->idle_rpm, 0));
  add_pair(pairs, EW_TEXT("wanted by"), w->by ? ew_sheet_day(w->by) : NULL);
  ew_flow_heading(flow, "What is wanted");
  ew_flow_pairs(flow, pairs);
}

#define MONEY_CELLS 6
static void add_line(GPtrArray *cells, const struct ew_job_line *l) {
  add(cells, g_strdup(l->name ? l->name : l->code));
  add(cells, ew_count_show(l->quantity));
  add(cells, g_strdup(l->unit));
  add(cells, ew_money_show(l->price));
  add(cells, ew_money_show(ew_job_line_sum(l)));
  add(cells, g_strdup(l->tax));
}

static void add_sum(GPtrArray *cells, const char *name, gint64 sum, gboolean bold) {
  g_autofree char *money = ew_money_show(sum);
  add(cells, g_strdup_printf("%s%s", bold ? "!" : "", ew_tr(name)));
  add(cells, NULL);
  add(cells, NULL);
  add(cells, NULL);
  add(cells, g_strdup_printf("%s%s", bold ? "!" : "", money));
  add(cells, NULL);
}

static void draw_money(struct ew_flow *flow, const GPtrArray *cells, const char *currency) {
  const struct ew_flow_column columns[MONEY_CELLS] = {{EW_TEXT("part or work"), 4, EW_OWN},
                                                      {EW_TEXT("quantity"), 1, EW_RIGHT},
                                                      {EW_TEXT("unit"), 0.7, EW_OWN},
                                                      {EW_TEXT("price of one"), 1.2, EW_RIGHT},
                                                      {currency, 1.3, EW_RIGHT},
                                                      {EW_TEXT("tax"), 1, EW_OWN}};
  ew_flow_table(flow, columns, MONEY_CELLS, cells, 8.5, 0);
}

/* Parts first, then labour, each with its sum where there are both. */
static void add_lines(GPtrArray *cells, const GArray *lines) {
  for (int labour = 0; labour < 2; labour++)
    for (guint i = 0; lines && i < lines->len; i++) {
      const struct ew_job_line *l = &g_array_index(lines, struct ew_job_line, i);
      if (l->labour == labour)
        add_line(cells, l);
    }
}

static void draw_lines(struct ew_flow *flow, const struct ew_job_quote *q) {
  const struct ew_job_sum sum = ew_job_sum_of(q->mark.lines);
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  add_lines(cells, q->mark.lines);
  add_sum(cells, EW_TEXT("parts"), sum.parts, FALSE);
  add_sum(cells, EW_TEXT("labour"), sum.labour, FALSE);
  add_sum(cells, EW_TEXT("in all"), sum.parts + sum.labour, TRUE);
  ew_flow_heading(flow, "Parts and labour");
  draw_money(flow, cells, q->currency);
}

/* What is promised otherwise since. */
static void draw_figures(struct ew_flow *flow, const struct ew_job_change *c,
                         enum ew_unit_system units) {
  g_autoptr(GPtrArray) pairs = g_ptr_array_new_with_free_func(g_free);
  add_pair(pairs, EW_TEXT("fuel"), g_strdup(c->fuel));
  add_pair(pairs, EW_TEXT("power"), power_text(c->power_w, c->power_speed_rpm, units));
  add_pair(pairs, EW_TEXT("torque"), figure(EW_KIND_TORQUE, units, c->torque_n_m, 0));
  add_pair(pairs, EW_TEXT("highest speed"),
           figure(EW_KIND_ROTATIONAL_SPEED, units, c->limit_rpm, 0));
  if (pairs->len)
    ew_flow_pairs(flow, pairs);
}

static void draw_changes(struct ew_flow *flow, const struct ew_job_paper *p) {
  const struct ew_job_standing s = ew_job_standing_of(p->job);
  const struct ew_job_change *c;
  if (!s.agreed || s.quote != p->quote || !p->job->records[EW_JOB_CHANGE]->len)
    return;
  ew_flow_heading(flow, "Changes");
  EW_JOB_EACH(p->job, CHANGE, const struct ew_job_change, c, i) {
    g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *day = ew_sheet_day(c->mark.day),
                    *text = ew_words("%s, signed by %s on %s", c->what, c->by, day);
    const struct ew_job_sum sum = ew_job_sum_of(c->mark.lines);
    ew_flow_text(flow, 9, TRUE, text);
    draw_figures(flow, c, p->units);
    add_lines(cells, c->mark.lines);
    add_sum(cells, EW_TEXT("this change"), sum.parts + sum.labour, FALSE);
    if (i + 1 == p->job->records[EW_JOB_CHANGE]->len)
      add_sum(cells, EW_TEXT("in all with every change"), s.total, TRUE);
    draw_money(flow, cells, p->quote->currency);
  }
}

static void draw_signature(struct ew_flow *flow, const struct ew_job_paper *p) {
  static const struct ew_flow_column columns[] = {
      {EW_TEXT("for the shop: name, date, signature"), 1, EW_LEFT},
      {EW_TEXT("for the customer: name, date, signature"), 1, EW_LEFT}};
  const struct ew_job_standing s = ew_job_standing_of(p->job);
  g_autoptr(GPtrArray) boxes = g_ptr_array_new();
  if (s.agreed && s.quote == p->quote) {
    g_autofree char *day = ew_sheet_day(s.agreed->mark.day),
                    *text = ew_words("Signed by %s on %s.", s.agreed->by, day);
    ew_flow_text(flow, 9, TRUE, text);
    return;
  }
  g_ptr_array_add(boxes, NULL);
  g_ptr_array_add(boxes, NULL);
  ew_flow_table(flow, columns, 2, boxes, 8, 40);
}

static void draw_quote(struct ew_flow *flow, const struct ew_job_paper *p) {
  g_autofree char *until = p->quote->until ? ew_sheet_day(p->quote->until) : NULL,
                  *good = until ? ew_words("This quote is good until %s.", until) : NULL;
  draw_wish(flow, p);
  draw_lines(flow, p->quote);
  draw_changes(flow, p);
  ew_flow_text(flow, 8, FALSE,
               "Each line is rounded to two decimals, then added up. Tax is as each line says and "
               "is neither added nor taken out here.");
  if (good)
    ew_flow_text(flow, 9, FALSE, good);
  if (p->quote->mark.note)
    ew_flow_text(flow, 9, FALSE, p->quote->mark.note);
  ew_flow_text(
      flow, 8, FALSE,
      "Power, torque and speeds above are what is promised once both have signed; what the "
      "engine dyno shows of them is in the test report.");
  draw_signature(flow, p);
}

#define ORDER_CELLS 6
static void draw_order(struct ew_flow *flow, const struct ew_job_paper *p,
                       const struct ew_job_order *order, const GArray *rows) {
  static const struct ew_flow_column columns[ORDER_CELLS] = {
      {EW_TEXT("supplier's number"), 1.6, EW_OWN},
      {EW_TEXT("part"), 3, EW_OWN},
      {EW_TEXT("quantity"), 1.1, EW_RIGHT},
      {EW_TEXT("due"), 1.2, EW_LEFT},
      {EW_TEXT("come"), 1, EW_RIGHT},
      {EW_TEXT("batch, serial"), 1.8, EW_OWN}};
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  g_autofree char *day = ew_sheet_day(order->mark.day),
                  *head = order->supplier
                              ? ew_words("Order %d of %s, %s", order->order, day, order->supplier)
                              : ew_words("Order %d of %s", order->order, day);
  ew_flow_text(flow, 10, TRUE, head);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_job_ordered *r = &g_array_index(rows, struct ew_job_ordered, i);
    const struct ew_job_came *c;
    if (r->order != order)
      continue;
    GString *batches = g_string_new(NULL);
    EW_JOB_EACH(p->job, CAME, const struct ew_job_came, c, k) {
      if (c->order == order->order && g_ascii_strcasecmp(c->code, r->line->code) == 0 &&
          (c->batch || c->serial))
        g_string_append_printf(batches, "%s%s%s%s", batches->len ? "; " : "",
                               c->batch ? c->batch : "", c->batch && c->serial ? ", " : "",
                               c->serial ? c->serial : "");
    }
    g_autofree char *count = ew_count_show(r->line->quantity),
                    *due = r->due[0] ? ew_sheet_day(r->due) : NULL;
    add(cells, g_strdup(r->line->supplier_number ? r->line->supplier_number : r->line->code));
    add(cells, g_strdup(r->line->name));
    add(cells, r->line->unit ? g_strdup_printf("%s %s", count, r->line->unit) : g_strdup(count));
    add(cells, due && r->late ? ew_words("!%s, late", due) : g_strdup(due));
    add(cells, r->came ? ew_count_show(r->came) : NULL);
    add(cells, g_string_free(batches, FALSE));
  }
  ew_flow_table(flow, columns, ORDER_CELLS, cells, 8.5, 0);
}

static void draw_orders(struct ew_flow *flow, const struct ew_job_paper *p) {
  g_autoptr(GArray) rows = ew_job_ordered_of(p->job, p->today), left = ew_job_to_order(p->job);
  const struct ew_job_order *order;
  EW_JOB_EACH(p->job, ORDER, const struct ew_job_order, order, i) {
    draw_order(flow, p, order, rows);
  }
  if (!left->len)
    return;
  ew_flow_heading(flow, "Not ordered yet");
  for (guint i = 0; i < left->len; i++) {
    const struct ew_job_line *l = &g_array_index(left, struct ew_job_line, i);
    g_autofree char *count = ew_count_show(l->quantity),
                    *text = g_strdup_printf("%s %s  %s, %s", count, l->unit ? l->unit : "",
                                            l->name ? l->name : l->code,
                                            l->supplier_number ? l->supplier_number : l->code);
    ew_flow_text(flow, 8.5, FALSE, text);
  }
}

gboolean ew_job_sheet_draw(enum ew_job_sheet_kind kind, const struct ew_job_paper *paper,
                           const char *path, enum ew_format format, enum ew_paper size,
                           GError **error) {
  struct ew_flow flow = {0};
  ew_flow_open(&flow, &paper->head, path, format, size);
  if (kind == EW_JOB_SHEET_QUOTE)
    draw_quote(&flow, paper);
  else
    draw_orders(&flow, paper);
  return ew_flow_close(&flow, error);
}
