/* The build sheet itself, and what the build sheets share. */
#include "sheet/build_sheet.h"
#include "base/words.h"
#include <math.h>
#include <string.h>

const char *const ew_build_sheet_titles[] = {
#define X(name, title, about) title,
    EW_BUILD_SHEETS(X)
#undef X
};

gboolean ew_build_sheet_draw(enum ew_build_sheet_kind kind, const struct ew_build_paper *paper,
                             const char *path, enum ew_format format, enum ew_paper size,
                             GError **error) {
  static void (*const draw[])(struct ew_flow *, const struct ew_build_paper *) = {
#define X(name, title, about) ew_sheet_draw_##name,
      EW_BUILD_SHEETS(X)
#undef X
  };
  struct ew_flow flow;
  ew_flow_open(&flow, &paper->head, path, format, size);
  draw[kind](&flow, paper);
  return ew_flow_close(&flow, error);
}

char *ew_sheet_length(const struct ew_build_paper *paper, double value) {
  if (isnan(value))
    return g_strdup("-");
  if (paper->units == EW_UNITS_US)
    return ew_words("%.3f in", value / 0.0254);
  return ew_words("%.2f mm", value * 1e3);
}

void ew_sheet_cells(GPtrArray *cells, ...) {
  va_list arguments;
  va_start(arguments, cells);
  for (const char *text; (text = va_arg(arguments, const char *)) != EW_END;)
    g_ptr_array_add(cells, g_strdup(text));
  va_end(arguments);
}

static char *figure(const struct ew_build_paper *paper, enum ew_kind kind, double value,
                    int decimals) {
  return isnan(value) ? g_strdup("") : ew_quantity_format(kind, paper->units, value, decimals);
}

/* NULL: nothing is stated. */
static char *materials_text(const struct ew_build_facts *f) {
  g_autofree char *block = f->block ? g_strconcat("block ", f->block, NULL) : NULL,
                  *head = f->head ? g_strconcat("head ", f->head, NULL) : NULL;
  return block && head ? g_strdup_printf("%s, %s", block, head) : g_strdup(block ? block : head);
}

static void draw_facts(struct ew_flow *flow, const struct ew_build_paper *paper) {
  const struct ew_engine *e = paper->engine;
  const struct ew_build_facts *f = ew_build_facts_of(paper->build);
  g_autoptr(GPtrArray) pairs = g_ptr_array_new_with_free_func(g_free);
  gboolean us = paper->units == EW_UNITS_US;
  g_autofree char *bore = figure(paper, EW_KIND_LENGTH, e->bore_m, us ? 3 : 1),
                  *stroke = figure(paper, EW_KIND_LENGTH, e->stroke_m, us ? 3 : 1),
                  *size = figure(paper, EW_KIND_VOLUME, ew_engine_displacement_m3(e), us ? 1 : 0),
                  *both = g_strdup_printf("%s × %s, %d cylinders", bore, stroke, e->cylinders),
                  *materials = materials_text(f),
                  *hours = ew_words("%.1f h", paper->running_s / 3600);
  ew_sheet_cells(pairs, "engine", e->name, "serial", e->serial, "for", e->owner, "bore × stroke",
                 both, "displacement", size, "build", f->build, "family", f->family, "materials",
                 materials, "rockers", f->rocker, "running so far", hours, EW_END);
  ew_flow_pairs(flow, pairs);
}

static void draw_agreed(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {
      {"agreed", 2, EW_LEFT}, {"target", 1.2, EW_RIGHT}, {"reached", 1.2, EW_RIGHT}};
  struct ew_build_agreed now = ew_build_agreed_now(paper->build);
  if (paper->build->records[EW_BUILD_AGREED]->len == 0)
    return;
  const struct ew_build_result *r = paper->result;
  gboolean pulled = r && r->pulls > 0;
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  const struct {
    const char *label;
    enum ew_kind kind;
    double target, reached;
    int decimals;
  } rows[] = {{"power", EW_KIND_POWER, now.power_w, pulled ? r->power_w : (double)NAN, 1},
              {"torque", EW_KIND_TORQUE, now.torque_n_m, pulled ? r->torque_n_m : (double)NAN, 0},
              {"highest speed", EW_KIND_ROTATIONAL_SPEED, now.limit_rpm,
               pulled ? r->highest_rpm : (double)NAN, 0}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    if (isnan(rows[i].target))
      continue;
    g_autofree char *target = figure(paper, rows[i].kind, rows[i].target, rows[i].decimals),
                    *reached = figure(paper, rows[i].kind, rows[i].reached, rows[i].decimals);
    ew_sheet_cells(cells, rows[i].label, target, *reached ? reached : "not run yet", EW_END);
  }
  ew_flow_heading(flow, "Agreed, and reached");
  if (cells->len)
    ew_flow_table(flow, columns, 3, cells, 8.5, 0);
  const struct ew_build_agreed *a;
  EW_BUILD_EACH(paper->build, AGREED, struct ew_build_agreed, a, i) {
    g_autofree char *text = g_strdup_printf(
        "%.10s  %s%s%s%s", a->mark.at ? a->mark.at : "", a->order ? "change order: " : "", a->what,
        a->mark.who ? ", " : "", a->mark.who ? a->mark.who : "");
    ew_flow_text(flow, 8, FALSE, text);
  }
  if (pulled)
    ew_flow_text(flow, 7.5, FALSE,
                 "Reached: peak of the mean of the last like pulls, with the factor of the test "
                 "report; the report gives its uncertainty.");
}

static void draw_findings(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {
      {"", 0.55, EW_LEFT}, {"what", 1.5, EW_LEFT}, {"finding", 4.6, EW_LEFT}};
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < paper->findings->len; i++) {
    const struct ew_finding *f = &g_array_index(paper->findings, struct ew_finding, i);
    g_autofree char *word =
        g_strdup_printf("%s%s", f->grade == EW_DANGER ? "!" : "", ew_warning_word(f->grade));
    ew_sheet_cells(cells, word, f->about, f->text, EW_END);
  }
  ew_flow_heading(flow, "To look at");
  if (cells->len)
    ew_flow_table(flow, columns, 3, cells, 7.5, 0);
  else
    ew_flow_text(flow, 8, FALSE, "Nothing found in what was written down.");
}

static char *number_only(const struct ew_build_paper *paper, const struct ew_build_line *line,
                         double value) {
  char *text = ew_build_show(line->kind, paper->units, value);
  *strchrnul(text, ' ') = 0;
  return text;
}

static char *item_head(const struct ew_build_paper *paper, const struct ew_build_line *line,
                       double expanded) {
  GString *text = g_string_new(line->name);
  const char *unit = ew_kind_shown(line->kind, ew_build_units(line->kind, paper->units));
  g_string_append_printf(text, "%s%s, %s", line->stage ? ", " : "", line->stage ? line->stage : "",
                         unit);
  if (!isnan(line->low) || !isnan(line->high)) {
    g_autofree char *low = number_only(paper, line, line->low),
                    *high = number_only(paper, line, line->high);
    g_string_append_printf(text, "; wanted %s%s%s (%s)", isnan(line->low) ? "at most " : low,
                           isnan(line->low)    ? ""
                           : isnan(line->high) ? " or more"
                                               : " to ",
                           isnan(line->high) ? "" : high, line->from);
  }
  if (expanded > 0) {
    g_autofree char *u = ew_build_show_doubt(line->kind, paper->units, expanded);
    *strchrnul(u, ' ') = 0;
    g_string_append_printf(text, "; ± %s or less", u);
  }
  if (line->measure && line->measure->instrument)
    g_string_append_printf(text, "; %s", line->measure->instrument);
  if (line->measure && line->measure->mark.who)
    g_string_append_printf(text, "; %s %.10s", line->measure->mark.who, line->measure->mark.at);
  return g_string_free(text, FALSE);
}

/* Lines [from, to) of one item and stage: a head, and the places in a grid of six. */
static void draw_item(struct ew_flow *flow, const struct ew_build_paper *paper, guint from,
                      guint to) {
  const struct ew_build_line *first = NULL;
  struct ew_pages *p = &flow->pages;
  double expanded = 0, width = ew_flow_width(flow) / 6;
  for (guint i = from; i < to; i++) {
    const struct ew_build_line *l = &g_array_index(paper->lines, struct ew_build_line, i);
    if (l->value.count > 0) {
      expanded = fmax(expanded, l->value.expanded);
      first = first ? first : l;
    }
  }
  g_autofree char *head = item_head(
      paper, first ? first : &g_array_index(paper->lines, struct ew_build_line, from), expanded);
  ew_flow_need(flow, 26 + 10.5 * ceil((to - from) / 6.0) * (to - from < 60));
  flow->y += 2;
  flow->y +=
      ew_text(p, p->margin, flow->y, ew_flow_width(flow), 7.5, TRUE, EW_LEFT, ew_black, head) + 1.5;
  for (guint i = from; i < to; i++) {
    const struct ew_build_line *l = &g_array_index(paper->lines, struct ew_build_line, i);
    guint column = (i - from) % 6;
    double x = p->margin + width * column;
    if (column == 0)
      ew_flow_need(flow, 11);
    g_autofree char *value = l->value.count ? number_only(paper, l, l->value.mean) : g_strdup("-"),
                    *mark = g_strdup_printf("%s%s",
                                            l->verdict == EW_FIT_OUT    ? "OUT "
                                            : l->verdict == EW_FIT_NEAR ? "near "
                                                                        : "",
                                            value);
    ew_text(p, x + 4, flow->y + 0.4, 0, 5.9, FALSE, EW_LEFT, ew_grey, l->position);
    ew_text(p, x + width - 3, flow->y - 0.6, 0, 7.5, l->verdict == EW_FIT_OUT, EW_RIGHT, ew_black,
            mark);
    if (column == 5 || i + 1 == to)
      flow->y += 10.5;
  }
}

static void draw_measurements(struct ew_flow *flow, const struct ew_build_paper *paper) {
  if (paper->lines->len)
    ew_flow_heading(flow, "Measured");
  for (guint i = 0; i < paper->lines->len;) {
    const struct ew_build_line *first = &g_array_index(paper->lines, struct ew_build_line, i);
    guint from = i;
    while (i < paper->lines->len &&
           g_array_index(paper->lines, struct ew_build_line, i).name == first->name &&
           g_strcmp0(g_array_index(paper->lines, struct ew_build_line, i).stage, first->stage) == 0)
      i++;
    draw_item(flow, paper, from, i);
  }
  if (paper->lines->len)
    ew_flow_text(flow, 7, FALSE,
                 "OUT: the mean lies outside; near: a limit lies inside the expanded uncertainty "
                 "(95 %, repeat readings and instrument's step only); -: not measured.");
}

static void draw_lash(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {
      {"valve", 1.2, EW_LEFT}, {"card, hot", 1, EW_RIGHT}, {"cold", 1, EW_RIGHT},
      {"hot", 1, EW_RIGHT},    {"growth", 1, EW_RIGHT},    {"changed since", 1.2, EW_RIGHT}};
  if (paper->build->records[EW_BUILD_LASH]->len == 0)
    return;
  g_autoptr(GArray) rows = ew_lash_rows(paper->build, paper->engine);
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_lash_row *r = &g_array_index(rows, struct ew_lash_row, i);
    double change = isnan(r->hot_change_m) ? r->cold_change_m : r->hot_change_m;
    g_autofree char *wanted = ew_sheet_length(paper, r->wanted_m),
                    *cold = ew_sheet_length(paper, r->cold_m),
                    *hot = ew_sheet_length(paper, r->hot_m),
                    *growth = ew_sheet_length(paper, r->growth_m),
                    *size = ew_sheet_length(paper, change),
                    *changed = g_strdup_printf("%s%s%s", fabs(change) > EW_LASH_STOP_M ? "!" : "",
                                               change > 0 ? "+" : "", size);
    ew_sheet_cells(cells, r->valve, wanted, cold, hot, growth, changed, EW_END);
  }
  ew_flow_heading(flow, "Lash");
  ew_flow_table(flow, columns, 6, cells, 7.5, 0);
}

static void draw_torques(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {
      {"fastener", 2, EW_LEFT},  {"stage", 1, EW_LEFT},    {"torque", 1.1, EW_RIGHT},
      {"angle", 0.7, EW_RIGHT},  {"stretch", 1, EW_RIGHT}, {"on the threads", 1.5, EW_LEFT},
      {"who, when", 1.3, EW_OWN}};
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  const struct ew_build_torque *t;
  EW_BUILD_EACH(paper->build, TORQUE, struct ew_build_torque, t, i) {
    g_autofree char *what = g_strdup_printf("%s%s%s", t->fastener, t->position ? ", " : "",
                                            t->position ? t->position : ""),
                    *torque = figure(paper, EW_KIND_TORQUE, t->torque_n_m, 0),
                    *angle = figure(paper, EW_KIND_ANGLE, t->angle_deg, 0),
                    *stretch = isnan(t->stretch_m)
                                   ? g_strdup("")
                                   : ew_build_show(EW_KIND_LENGTH, paper->units, t->stretch_m),
                    *who = g_strdup_printf("%s %.10s", t->mark.who ? t->mark.who : "",
                                           t->mark.at ? t->mark.at : "");
    ew_sheet_cells(cells, what, t->stage ? t->stage : "", torque, angle, stretch,
                   t->lubricant ? t->lubricant : "!not said", who, EW_END);
  }
  if (cells->len == 0)
    return;
  ew_flow_heading(flow, "Tightened");
  ew_flow_table(flow, columns, 7, cells, 7.5, 0);
}

static void draw_seen(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {{"looked at", 1.6, EW_LEFT},
                                                  {"stage", 1, EW_LEFT},
                                                  {"seen", 3.4, EW_OWN},
                                                  {"", 0.8, EW_LEFT},
                                                  {"who, when", 1.3, EW_OWN}};
  static const char *const grades[] = {"fine", "watch", "!stop"};
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  const struct ew_build_seen *s;
  EW_BUILD_EACH(paper->build, SEEN, struct ew_build_seen, s, i) {
    g_autofree char *what = g_strdup_printf("%s%s%s", s->what, s->position ? ", " : "",
                                            s->position ? s->position : ""),
                    *who = g_strdup_printf("%s %.10s", s->mark.who ? s->mark.who : "",
                                           s->mark.at ? s->mark.at : "");
    ew_sheet_cells(cells, what, s->stage ? s->stage : "", s->says, grades[s->grade], who, EW_END);
  }
  if (cells->len == 0)
    return;
  ew_flow_heading(flow, "Looked at");
  ew_flow_table(flow, columns, 5, cells, 7.5, 0);
}

static void draw_parts(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {
      {"part or fluid", 2, EW_OWN}, {"number", 1.3, EW_OWN}, {"batch", 1.1, EW_OWN},
      {"serial", 1.1, EW_OWN},      {"where", 1.2, EW_LEFT}, {"how many", 0.9, EW_LEFT}};
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  const struct ew_build_part *part;
  EW_BUILD_EACH(paper->build, PART, struct ew_build_part, part, i)
  ew_sheet_cells(cells, part->part, part->number ? part->number : "",
                 part->batch ? part->batch : "", part->serial ? part->serial : "",
                 part->position ? part->position : "", part->quantity ? part->quantity : "",
                 EW_END);
  if (cells->len == 0)
    return;
  ew_flow_heading(flow, "Parts and fluids");
  ew_flow_table(flow, columns, 6, cells, 7.5, 0);
}

static void draw_steps(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {{"list", 1.1, EW_LEFT},
                                                  {"step", 3.6, EW_LEFT},
                                                  {"state", 0.9, EW_LEFT},
                                                  {"who, when", 1.2, EW_LEFT}};
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  const struct ew_build_step *step;
  const char *list = NULL;
  EW_BUILD_EACH(paper->build, STEP, struct ew_build_step, step, i) {
    const struct ew_build_tick *tick;
    int state = ew_build_step_state(paper->build, step, &tick);
    g_autofree char *who = tick ? g_strdup_printf("%s %.10s", tick->mark.who ? tick->mark.who : "",
                                                  tick->mark.at ? tick->mark.at : "")
                                : g_strdup("");
    gboolean mind = state < 0 || state == 2;
    g_autofree char *word = g_strconcat(mind ? "!" : "", ew_build_step_state_word(state), NULL);
    ew_sheet_cells(cells, g_strcmp0(list, step->list) ? step->list : "", step->step, word, who,
                   EW_END);
    list = step->list;
  }
  if (cells->len == 0)
    return;
  ew_flow_heading(flow, "Checklists");
  ew_flow_table(flow, columns, 4, cells, 7.5, 0);
}

void ew_sheet_draw_build(struct ew_flow *flow, const struct ew_build_paper *paper) {
  draw_facts(flow, paper);
  draw_agreed(flow, paper);
  draw_findings(flow, paper);
  draw_measurements(flow, paper);
  draw_lash(flow, paper);
  draw_torques(flow, paper);
  draw_seen(flow, paper);
  draw_parts(flow, paper);
  flow->keep = paper->attachments->len ? 0 : 46;
  draw_steps(flow, paper);
  flow->keep = 0;
  if (paper->attachments->len)
    ew_flow_heading(flow, "Attachments");
  for (guint i = 0; i < paper->attachments->len; i++)
    ew_flow_text(flow, 7.5, FALSE, paper->attachments->pdata[i]);
  ew_flow_need(flow, 40);
  flow->y += 26;
  ew_flow_text(flow, 8, FALSE,
               "Built by ______________________________     Checked by "
               "______________________________     Date ________________");
}
