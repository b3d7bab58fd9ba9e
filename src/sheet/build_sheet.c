/* The build sheet itself, and what the build sheets share. */
#include "sheet/build_sheet.h"
#include "base/language.h"
#include "base/words.h"
#include "build/position.h"
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
  g_assert(kind < EW_BUILD_SHEETS_COUNT);
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
  return isnan(value) ? g_strdup("")
         : kind == EW_KIND_ROTATIONAL_SPEED
             ? ew_words("%#.0f rpm", value)
             : ew_quantity_format(kind, paper->units, value, decimals);
}

/* "A. Weir 01.12.2026" */
static char *who_when(const struct ew_build_mark *mark) {
  g_autofree char *day = ew_sheet_day(mark->at);
  return g_strdup_printf("%s %s", mark->who ? mark->who : "", day);
}

/* NULL: nothing is stated. */
static char *materials_text(const struct ew_build_facts *f) {
  if (f->block && f->head)
    return ew_words("block %s, head %s", f->block, f->head);
  return f->block ? ew_words("block %s", f->block) : f->head ? ew_words("head %s", f->head) : NULL;
}

static void draw_facts(struct ew_flow *flow, const struct ew_build_paper *paper) {
  const struct ew_engine *e = paper->engine;
  const struct ew_build_facts *f = ew_build_facts_of(paper->build);
  g_autoptr(GPtrArray) pairs = g_ptr_array_new_with_free_func(g_free);
  gboolean us = paper->units == EW_UNITS_US;
  g_autofree char *bore = figure(paper, EW_KIND_LENGTH, e->bore_m, us ? 3 : 1),
                  *stroke = figure(paper, EW_KIND_LENGTH, e->stroke_m, us ? 3 : 1),
                  *size = figure(paper, EW_KIND_VOLUME, ew_engine_displacement_m3(e), us ? 1 : 0),
                  *both = ew_words(ew_tr_many("%s × %s, %d cylinder", "%s × %s, %d cylinders",
                                              (guint64)e->cylinders),
                                   bore, stroke, e->cylinders),
                  *materials = materials_text(f),
                  *hours = ew_words("%.1f h", paper->running_s / 3600);
  ew_sheet_cells(pairs, EW_TEXT("engine"), e->name, EW_TEXT("serial"), e->serial, EW_TEXT("for"),
                 e->owner, EW_TEXT("bore × stroke"), both, EW_TEXT("displacement"), size,
                 EW_TEXT("build"), f->build, EW_TEXT("family"), f->family, EW_TEXT("materials"),
                 materials, EW_TEXT("rockers"), f->rocker, EW_TEXT("running so far"), hours,
                 EW_END);
  ew_flow_pairs(flow, pairs);
}

static void draw_agreed(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {{EW_TEXT("agreed"), 2, EW_LEFT},
                                                  {EW_TEXT("target"), 1.2, EW_RIGHT},
                                                  {EW_TEXT("reached"), 1.2, EW_RIGHT}};
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
  } rows[] = {
      {EW_TEXT("power"), EW_KIND_POWER, now.power_w, pulled ? r->power_w : (double)NAN, 1},
      {EW_TEXT("torque"), EW_KIND_TORQUE, now.torque_n_m, pulled ? r->torque_n_m : (double)NAN, 0},
      {EW_TEXT("highest speed"), EW_KIND_ROTATIONAL_SPEED, now.limit_rpm,
       pulled ? r->highest_rpm : (double)NAN, 0}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    if (isnan(rows[i].target))
      continue;
    g_autofree char *target = figure(paper, rows[i].kind, rows[i].target, rows[i].decimals),
                    *reached = figure(paper, rows[i].kind, rows[i].reached, rows[i].decimals);
    ew_sheet_cells(cells, ew_tr(rows[i].label), target, *reached ? reached : ew_tr("not run yet"),
                   EW_END);
  }
  ew_flow_heading(flow, "Agreed, and reached");
  if (cells->len)
    ew_flow_table(flow, columns, 3, cells, 8.5, 0);
  const struct ew_build_agreed *a;
  EW_BUILD_EACH(paper->build, AGREED, struct ew_build_agreed, a, i) {
    g_autofree char *day = ew_sheet_day(a->mark.at),
                    *what = a->order ? ew_words("change order: %s", a->what) : g_strdup(a->what),
                    *text = g_strdup_printf("%s  %s%s%s", day, what, a->mark.who ? ", " : "",
                                            a->mark.who ? a->mark.who : "");
    ew_flow_text(flow, 8, FALSE, text);
  }
  if (pulled)
    ew_flow_text(flow, 7.5, FALSE,
                 "Reached: peak of the mean of the last comparable pulls, with the factor of the "
                 "test report; the report gives its uncertainty.");
}

static void draw_findings(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {{"", 0.65, EW_LEFT},
                                                  {EW_TEXT("finding"), 6, EW_LEFT}};
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < paper->findings->len; i++) {
    const ew_message *m = paper->findings->pdata[i];
    enum ew_severity severity = ew_message_severity(m);
    g_autofree char *word = g_strconcat(severity == EW_DANGER ? "!" : "",
                                        ew_tr(ew_severity_words[severity]), NULL),
                    *says = ew_message_text(m, paper->units);
    ew_sheet_cells(cells, word, says, EW_END);
  }
  ew_flow_heading(flow, "To look at");
  if (cells->len)
    ew_flow_table(flow, columns, 2, cells, 7.5, 0);
  else
    ew_flow_text(flow, 8, FALSE, "Nothing to report in what was written down.");
}

static char *number_only(const struct ew_build_paper *paper, const struct ew_build_line *line,
                         double value) {
  char *text = ew_build_show(line->kind, paper->units, value);
  *strchrnul(text, ' ') = 0;
  return text;
}

static char *item_head(const struct ew_build_paper *paper, const struct ew_build_line *line,
                       double expanded) {
  GString *text = g_string_new(ew_tr(line->name));
  const char *unit = ew_kind_shown(line->kind, ew_build_units(line->kind, paper->units));
  g_string_append_printf(text, "%s%s, %s", line->stage ? ", " : "",
                         line->stage ? ew_tr(line->stage) : "", unit);
  if (!isnan(line->low) || !isnan(line->high)) {
    g_autofree char *low = number_only(paper, line, line->low),
                    *high = number_only(paper, line, line->high);
    g_autofree char *wanted =
        isnan(line->low)    ? ew_words("target at most %s (%s)", high, ew_build_from(line))
        : isnan(line->high) ? ew_words("target %s or more (%s)", low, ew_build_from(line))
                            : ew_words("target %s to %s (%s)", low, high, ew_build_from(line));
    g_string_append_printf(text, "; %s", wanted);
  }
  if (expanded > 0) {
    g_autofree char *u = ew_build_show_doubt(line->kind, paper->units, expanded);
    *strchrnul(u, ' ') = 0;
    g_autofree char *least = ew_words("± %s or less", u);
    g_string_append_printf(text, "; %s", least);
  }
  if (line->measure && line->measure->instrument)
    g_string_append_printf(text, "; %s", line->measure->instrument);
  if (line->measure && line->measure->mark.who) {
    g_autofree char *day = ew_sheet_day(line->measure->mark.at);
    g_string_append_printf(text, "; %s %s", line->measure->mark.who, day);
  }
  return g_string_free(text, FALSE);
}

static char *place_text(const struct ew_build_paper *paper, const char *position) {
  g_autoptr(ew_message) place = ew_build_place(position);
  return ew_message_text(place, paper->units);
}

/* Lines [from, to) of one item and stage: a head, and the places in a grid of six. */
static void draw_item(struct ew_flow *flow, const struct ew_build_paper *paper, guint from,
                      guint to) {
  g_assert(from < to && to <= paper->lines->len);
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
                    *mark = l->verdict == EW_FIT_OUT    ? ew_words("OUT %s", value)
                            : l->verdict == EW_FIT_NEAR ? ew_words("near %s", value)
                                                        : g_strdup(value);
    g_autofree char *place = place_text(paper, l->position);
    ew_text(p, x + 4, flow->y + 0.4, 0, 5.9, FALSE, EW_LEFT, ew_grey, place);
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
                 "OUT: the mean is out of range; near: a limit is within the expanded uncertainty "
                 "(95 %, from repeat readings and the instrument's resolution only); -: not "
                 "measured.");
}

static void draw_lash(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {
      {EW_TEXT("valve"), 1.2, EW_LEFT}, {EW_TEXT("card, hot"), 1, EW_RIGHT},
      {EW_TEXT("cold"), 1, EW_RIGHT},   {EW_TEXT("hot"), 1, EW_RIGHT},
      {EW_TEXT("growth"), 1, EW_RIGHT}, {EW_TEXT("changed since"), 1.2, EW_RIGHT}};
  if (paper->build->records[EW_BUILD_LASH]->len == 0)
    return;
  g_autoptr(GArray) rows = ew_lash_rows(paper->build, paper->engine);
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_lash_row *r = &g_array_index(rows, struct ew_lash_row, i);
    double change = ew_lash_change_m(r);
    g_autofree char *wanted = ew_sheet_length(paper, r->wanted_m),
                    *cold = ew_sheet_length(paper, r->cold_m),
                    *hot = ew_sheet_length(paper, r->hot_m),
                    *growth = ew_sheet_length(paper, r->growth_m),
                    *size = ew_sheet_length(paper, change),
                    *changed = g_strdup_printf("%s%s%s", ew_lash_stops(change) ? "!" : "",
                                               change > 0 ? "+" : "", size);
    g_autofree char *valve = place_text(paper, r->valve);
    ew_sheet_cells(cells, valve, wanted, cold, hot, growth, changed, EW_END);
  }
  ew_flow_heading(flow, "Lash");
  ew_flow_table(flow, columns, 6, cells, 7.5, 0);
}

static void draw_torques(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {
      {EW_TEXT("fastener"), 2, EW_LEFT},  {EW_TEXT("stage"), 1, EW_LEFT},
      {EW_TEXT("torque"), 1.1, EW_RIGHT}, {EW_TEXT("angle"), 0.7, EW_RIGHT},
      {EW_TEXT("stretch"), 1, EW_RIGHT},  {EW_TEXT("on the threads"), 1.5, EW_LEFT},
      {EW_TEXT("who, when"), 1.3, EW_OWN}};
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
                    *who = who_when(&t->mark);
    ew_sheet_cells(cells, what, t->stage ? t->stage : "", torque, angle, stretch,
                   t->lubricant ? t->lubricant : ew_tr("!not stated"), who, EW_END);
  }
  if (cells->len == 0)
    return;
  ew_flow_heading(flow, "Tightened");
  ew_flow_table(flow, columns, 7, cells, 7.5, 0);
}

static void draw_seen(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {{EW_TEXT("looked at"), 1.6, EW_LEFT},
                                                  {EW_TEXT("stage"), 1, EW_LEFT},
                                                  {EW_TEXT("seen"), 3.4, EW_OWN},
                                                  {"", 0.8, EW_LEFT},
                                                  {EW_TEXT("who, when"), 1.3, EW_OWN}};
  static const char *const grades[] = {EW_TEXT("fine"), EW_TEXT("watch"), EW_TEXT("!stop")};
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  const struct ew_build_seen *s;
  EW_BUILD_EACH(paper->build, SEEN, struct ew_build_seen, s, i) {
    g_autofree char *what = g_strdup_printf("%s%s%s", s->what, s->position ? ", " : "",
                                            s->position ? s->position : ""),
                    *who = who_when(&s->mark);
    ew_sheet_cells(cells, what, s->stage ? s->stage : "", s->says, ew_tr(grades[s->grade]), who,
                   EW_END);
  }
  if (cells->len == 0)
    return;
  ew_flow_heading(flow, "Looked at");
  ew_flow_table(flow, columns, 5, cells, 7.5, 0);
}

static void draw_parts(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {
      {EW_TEXT("part or fluid"), 2, EW_OWN}, {EW_TEXT("part number"), 1.3, EW_OWN},
      {EW_TEXT("batch"), 1.1, EW_OWN},       {EW_TEXT("serial"), 1.1, EW_OWN},
      {EW_TEXT("where"), 1.2, EW_LEFT},      {EW_TEXT("how many"), 0.9, EW_LEFT}};
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
  static const struct ew_flow_column columns[] = {{EW_TEXT("list"), 1.1, EW_LEFT},
                                                  {EW_TEXT("step"), 3.6, EW_LEFT},
                                                  {EW_TEXT("state"), 0.9, EW_LEFT},
                                                  {EW_TEXT("who, when"), 1.2, EW_LEFT}};
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  const struct ew_build_step *step;
  const char *list = NULL;
  EW_BUILD_EACH(paper->build, STEP, struct ew_build_step, step, i) {
    const struct ew_build_tick *tick;
    int state = ew_build_step_state(paper->build, step, &tick);
    g_autofree char *who = tick ? who_when(&tick->mark) : g_strdup("");
    gboolean grave = state < 0 || state == 2;
    g_autofree char *word =
        g_strconcat(grave ? "!" : "", ew_tr(ew_build_step_state_word(state)), NULL);
    ew_sheet_cells(cells, g_strcmp0(list, step->list) ? ew_tr(step->list) : "", step->step, word,
                   who, EW_END);
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
