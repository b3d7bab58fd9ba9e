/* One function a kind of finding, each reading the record alone: lines against targets, missing places, bores,
 * spreads, stages, chambers, what was seen, lash, torques, parts, instruments; steps and what was agreed are in
 * check_gates.c. Sorted by grade, the gravest first. */
#include "build/check_parts.h"
#include "base/language.h"
#include "base/statistics.h"
#include "build/lash.h"
#include "build/position.h"
#include <math.h>
#include <string.h>

EW_MESSAGE(place_of, "build.place", EW_NOTE, "{item} {place}");
EW_MESSAGE(place_staged, "build.place-staged", EW_NOTE, "{item} {place} ({stage})");
EW_MESSAGE(item_alone, "build.item", EW_NOTE, "{item}");
EW_MESSAGE(item_staged, "build.item-staged", EW_NOTE, "{item} ({stage})");
EW_MESSAGE(at_most, "build.at-most", EW_NOTE, "at most {high}");
EW_MESSAGE(at_least, "build.at-least", EW_NOTE, "at least {low}");
EW_MESSAGE(between, "build.between", EW_NOTE, "{low} to {high}");
EW_MESSAGE(word_first, "build.first", EW_NOTE, "first");
EW_MESSAGE(word_last, "build.last", EW_NOTE, "last");
EW_MESSAGE(word_no_place, "build.no-place", EW_NOTE, "no stated place");

EW_MESSAGE(out, "build.out", EW_CAUTION,
           "{what}: {mean} is out of limits, {target} wanted ({from})");
EW_MESSAGE(out_hurts, "build.out-hurts", EW_DANGER,
           "{what}: {mean} is out of limits, {target} wanted ({from}). {caution}");
EW_MESSAGE(
    near, "build.near", EW_NOTE,
    "{what}: {mean} ± {doubt} reaches beyond a limit ({target}): read it again, or with a finer "
    "instrument");
EW_MESSAGE(missing_all, "build.not-measured", EW_CAUTION, "{what}: not measured at all");
EW_MESSAGE(missing_some, "build.not-measured-at", EW_CAUTION, "{what}: not measured at {places}");
EW_MESSAGE(missing_many, "build.not-measured-at-many", EW_CAUTION,
           "{what}: not measured at {places} and others");
EW_MESSAGE(coarse_reading, "build.coarse", EW_NOTE,
           "{what}: read in steps of {step}, coarse for a target of {target}");
EW_MESSAGE_MANY(
    no_instrument, "build.no-instrument", EW_NOTE,
    "{count} measurement does not name its instrument and resolution: what it is worth is "
    "not known",
    "{count} measurements do not name their instrument and resolution: what they are worth "
    "is not known");
EW_MESSAGE(taper, "build.taper", EW_CAUTION, "{what}: taper {value}, at most {limit} wanted");
EW_MESSAGE(ovality, "build.ovality", EW_CAUTION, "{what}: ovality {value}, at most {limit} wanted");
EW_MESSAGE(
    spread_wide, "build.spread", EW_CAUTION,
    "{what}: a spread of {spread}, from {least} at {least_at} to {greatest} at {greatest_at}; at "
    "most {limit} wanted");
EW_MESSAGE(one_low, "build.lowest", EW_CAUTION,
           "{what}: the lowest ({least} at {least_at}) is {share} of the highest ({greatest} at "
           "{greatest_at}); at least {limit} wanted");
EW_MESSAGE(
    changed, "build.changed", EW_CAUTION,
    "{what}: {first} ({first_stage}) became {last} ({last_stage}): find out why before it runs "
    "again");
EW_MESSAGE(
    chamber_in_file, "build.chamber-in-file", EW_CAUTION,
    "{what}: cylinder {cylinder} was measured as {measured}, the engine's file says {stated}: one "
    "of them is out of date");
EW_MESSAGE(
    lash_hydraulic, "build.lash-hydraulic", EW_NOTE,
    "lash was read, but the engine's file says hydraulic lifters, which have none: one of the two "
    "is wrong");
EW_MESSAGE(
    lash_changed, "build.lash-changed", EW_DANGER,
    "lash {valve}: changed by {change} since it was set: stop and look (valve, seat, lobe, lifter, "
    "adjuster)");
EW_MESSAGE(
    lash_growth, "build.lash-growth", EW_CAUTION,
    "lash {valve}: grew by {growth} from cold to hot, the others by {others}: read it again");
EW_MESSAGE(lash_hot, "build.lash-hot", EW_CAUTION,
           "lash {valve}: {hot} hot, the cam's card asks for {wanted}");
EW_MESSAGE(lash_unread, "build.lash-unread", EW_CAUTION,
           "lash {valve}: not read, though others were");
EW_MESSAGE(torque_off, "build.torque", EW_DANGER,
           "{what}: tightened to {torque}, the maker asks for {low} to {high}");
EW_MESSAGE(stretch_off, "build.stretch", EW_DANGER,
           "{what}: stretched by {stretch}, the maker asks for {low} to {high}");
EW_MESSAGE_MANY(
    dry_threads, "build.no-lubricant", EW_NOTE,
    "{count} torque record does not say what was on the threads: a torque means nothing "
    "without it",
    "{count} torque records do not say what was on the threads: a torque means nothing "
    "without it");
EW_MESSAGE(no_batch, "build.no-batch", EW_NOTE,
           "{what}: no batch number: write it down while the can is there");
EW_MESSAGE(serial_twice, "build.serial-twice", EW_CAUTION,
           "{what}: serial {serial} is written down for {one} and for {other}: one is wrong");
EW_MESSAGE(seen_watch, "build.seen-watch", EW_CAUTION, "{what}: watch: {says}");
EW_MESSAGE(seen_stop, "build.seen-stop", EW_DANGER, "{what}: stop and look: {says}");
static struct ew_argument say_length(const char *name, double length_m, int decimals) {
  return ew_say_quantity(name, EW_KIND_LENGTH, length_m, decimals);
}

/* What a line measures and where, for people; about it as a key. */
static ew_message *what_of(const char *item, const char *position, const char *stage) {
  g_autoptr(ew_message) place = position ? ew_build_place(position) : NULL;
  if (!place)
    return stage ? ew_message(&item_staged, ew_say_text("item", item), ew_say_text("stage", stage))
                 : ew_message(&item_alone, ew_say_text("item", item));
  if (!stage)
    return ew_message(&place_of, ew_say_text("item", item), ew_say_message("place", place));
  return ew_message(&place_staged, ew_say_text("item", item), ew_say_message("place", place),
                    ew_say_text("stage", stage));
}

static char *about_of(const char *item, const char *position, const char *stage) {
  return g_strdup_printf("%s%s%s%s%s%s", item, position ? " " : "", position ? position : "",
                         stage ? " (" : "", stage ? stage : "", stage ? ")" : "");
}

static ew_message *target_of(const struct ew_build_line *line) {
  struct ew_argument low = ew_build_say("low", line->kind, line->low),
                     high = ew_build_say("high", line->kind, line->high);
  return isnan(line->low)    ? ew_message(&at_most, high)
         : isnan(line->high) ? ew_message(&at_least, low)
                             : ew_message(&between, low, high);
}

static void check_line(struct ew_build_checking *c, const struct ew_build_line *line) {
  if (line->verdict != EW_FIT_OUT && line->verdict != EW_FIT_NEAR)
    return;
  g_autofree char *about = about_of(line->name, line->position, line->stage);
  g_autoptr(ew_message) what = what_of(line->name, line->position, line->stage),
                        target = target_of(line);
  const char *caution = line->item ? line->item->caution : NULL;
  struct ew_argument w = ew_say_message("what", what), t = ew_say_message("target", target),
                     mean = ew_build_say("mean", line->kind, line->value.mean),
                     from = ew_build_say_from("from", line);
  if (line->verdict == EW_FIT_NEAR)
    ew_build_find(c, about,
                  ew_message(&near, w, mean, t,
                             ew_build_say_doubt("doubt", line->kind, line->value.expanded)));
  else if (caution)
    ew_build_find(c, about,
                  ew_message(&out_hurts, w, mean, t, from, ew_say_text("caution", caution)));
  else
    ew_build_find(c, about, ew_message(&out, w, mean, t, from));
}

static void find_missing(struct ew_build_checking *c, const struct ew_build_line *first,
                         guint missing, gboolean all, const GPtrArray *places) {
  g_autoptr(ew_message) what = what_of(first->name, NULL, all ? NULL : first->stage);
  struct ew_argument w = ew_say_message("what", what);
  if (all)
    ew_build_find(c, first->name, ew_message(&missing_all, w));
  else if (missing)
    ew_build_find(c, first->name,
                  ew_message(missing > places->len ? &missing_many : &missing_some, w,
                             ew_say_messages("places", places)));
}

/* Places of one item and stage that were not measured, in one finding; the first eight are named. */
static void check_missing(struct ew_build_checking *c) {
  for (guint i = 0; i < c->lines->len;) {
    const struct ew_build_line *first = &g_array_index(c->lines, struct ew_build_line, i);
    g_autoptr(GPtrArray) places = ew_messages_new();
    guint missing = 0, from = i;
    for (; i < c->lines->len; i++) {
      const struct ew_build_line *line = &g_array_index(c->lines, struct ew_build_line, i);
      if (line->name != first->name || g_strcmp0(line->stage, first->stage) != 0)
        break;
      if (line->verdict == EW_FIT_MISSING && missing++ < 8)
        ew_messages_add(places, ew_build_place(line->position));
    }
    find_missing(c, first, missing, missing == i - from, places);
  }
}

static void check_instruments(struct ew_build_checking *c) {
  guint silent = 0;
  const char *coarse = NULL;
  for (guint i = 0; i < c->lines->len; i++) {
    const struct ew_build_line *line = &g_array_index(c->lines, struct ew_build_line, i);
    if (!line->measure)
      continue;
    double resolution = line->measure->resolution, wide = line->high - line->low;
    if (!line->measure->instrument || isnan(resolution))
      silent++;
    else if (resolution > wide / 4 && line->name != coarse) {
      coarse = line->name;
      g_autoptr(ew_message) target = target_of(line), what = what_of(line->name, NULL, NULL);
      ew_build_find(c, line->name,
                    ew_message(&coarse_reading, ew_say_message("what", what),
                               ew_build_say("step", line->kind, resolution),
                               ew_say_message("target", target)));
    }
  }
  if (silent)
    ew_build_find(c, "instruments", ew_message(&no_instrument, ew_say_count("count", silent)));
}

static void check_bore(struct ew_build_checking *c, const char *item, int cylinder,
                       const struct ew_message_kind *kind, double value, double limit) {
  if (!(value > limit * (1 + 1e-9)))
    return;
  g_autofree char *place = g_strdup_printf("%d", cylinder), *about = about_of(item, place, NULL);
  g_autoptr(ew_message) what = what_of(item, place, NULL);
  ew_build_find(c, about,
                ew_message(kind, ew_say_message("what", what), say_length("value", value, 3),
                           say_length("limit", limit, 3)));
}

static void check_bores(struct ew_build_checking *c) {
  const struct ew_build_item *item;
  EW_BUILD_EACH(c->build, ITEM, struct ew_build_item, item, i) {
    if (item->by != EW_BY_BORE || ew_build_item_of(c->build, item->item) != item)
      continue;
    for (int cylinder = 1; cylinder <= c->engine->cylinders; cylinder++) {
      struct ew_bore_shape s = ew_bore_shape_of(c->lines, item->item, cylinder);
      check_bore(c, item->item, cylinder, &taper, s.taper_m, item->taper_m);
      check_bore(c, item->item, cylinder, &ovality, s.ovality_m, item->ovality_m);
    }
  }
}

/* Least, greatest and mean of the lines [from, to) of one side. */
struct extent {
  double least, greatest, sum;
  const char *least_at, *greatest_at;
  guint count;
};

static struct extent extent_of(const GArray *lines, guint from, guint to, int side) {
  g_assert(from <= to && to <= lines->len);
  struct extent e = {INFINITY, -INFINITY, 0, NULL, NULL, 0};
  for (guint i = from; i < to; i++) {
    const struct ew_build_line *line = &g_array_index(lines, struct ew_build_line, i);
    if (line->value.count == 0 || ew_build_position_side(line->position) != side)
      continue;
    double v = line->value.mean;
    if (v < e.least)
      e.least = v, e.least_at = line->position;
    if (v > e.greatest)
      e.greatest = v, e.greatest_at = line->position;
    e.sum += v;
    e.count++;
  }
  return e;
}

static void check_extent(struct ew_build_checking *c, const struct ew_build_line *first,
                         const struct extent *e) {
  g_autoptr(ew_message) what = what_of(first->name, NULL, NULL),
                        least_at = ew_build_place(e->least_at),
                        greatest_at = ew_build_place(e->greatest_at);
  struct ew_argument w = ew_say_message("what", what),
                     least = ew_build_say("least", first->kind, e->least),
                     greatest = ew_build_say("greatest", first->kind, e->greatest),
                     low_place = ew_say_message("least_at", least_at),
                     high_place = ew_say_message("greatest_at", greatest_at);
  double spread = (e->greatest - e->least) / (e->sum / e->count), share = e->least / e->greatest;
  if (spread > first->item->spread)
    ew_build_find(c, first->name,
                  ew_message(&spread_wide, w, ew_say_share("spread", spread, 1), least, low_place,
                             greatest, high_place, ew_say_share("limit", first->item->spread, 1)));
  if (share < first->item->lowest_share)
    ew_build_find(c, first->name,
                  ew_message(&one_low, w, least, low_place, ew_say_share("share", share, 0),
                             greatest, high_place,
                             ew_say_share("limit", first->item->lowest_share, 0)));
}

static void check_spread(struct ew_build_checking *c) {
  for (guint i = 0; i < c->lines->len;) {
    const struct ew_build_line *first = &g_array_index(c->lines, struct ew_build_line, i);
    guint from = i;
    while (i < c->lines->len &&
           g_array_index(c->lines, struct ew_build_line, i).name == first->name &&
           g_strcmp0(g_array_index(c->lines, struct ew_build_line, i).stage, first->stage) == 0)
      i++;
    for (int side = -1; first->item && side < 2; side++) {
      struct extent e = extent_of(c->lines, from, i, side);
      if (e.count >= 2)
        check_extent(c, first, &e);
    }
  }
}

static struct ew_argument say_stage(const char *name, const char *stage,
                                    const struct ew_message_kind *otherwise) {
  return stage ? ew_say_text(name, stage) : ew_say_word(name, otherwise);
}

/* The first and the last stage of one place. */
static void check_change(struct ew_build_checking *c) {
  for (guint i = 0; i < c->lines->len; i++) {
    const struct ew_build_line *first = &g_array_index(c->lines, struct ew_build_line, i),
                               *last = NULL;
    if (!first->item || isnan(first->item->change) || first->value.count == 0)
      continue;
    gboolean earlier = FALSE;
    for (guint k = 0; k < c->lines->len; k++) {
      const struct ew_build_line *line = &g_array_index(c->lines, struct ew_build_line, k);
      if (k == i || line->name != first->name || line->value.count == 0 ||
          strcmp(line->position, first->position) != 0)
        continue;
      if (k < i)
        earlier = TRUE;
      else
        last = line;
    }
    double change = last ? last->value.mean - first->value.mean : 0;
    if (earlier || fabs(change) <= first->item->change * (1 + 1e-9))
      continue;
    g_autofree char *about = about_of(first->name, first->position, NULL);
    g_autoptr(ew_message) what = what_of(first->name, first->position, NULL);
    ew_build_find(c, about,
                  ew_message(&changed, ew_say_message("what", what),
                             ew_build_say("first", first->kind, first->value.mean),
                             ew_build_say("last", last->kind, last->value.mean),
                             say_stage("first_stage", first->stage, &word_first),
                             say_stage("last_stage", last->stage, &word_last)));
  }
}

static double median_growth(const GArray *rows, int side) {
  g_autofree double *values = g_new(double, rows->len + 1);
  gsize n = 0;
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_lash_row *row = &g_array_index(rows, struct ew_lash_row, i);
    if (row->side == side && !isnan(row->growth_m))
      values[n++] = row->growth_m;
  }
  return n >= 3 ? ew_median(values, n, EW_NONE_ABSENT) : (double)NAN;
}

static void check_lash_row(struct ew_build_checking *c, const struct ew_lash_row *row,
                           double others_m) {
  g_autofree char *about = g_strdup_printf("lash %s", row->valve);
  g_autoptr(ew_message) place = ew_build_place(row->valve);
  struct ew_argument valve = ew_say_message("valve", place);
  double change = ew_lash_change_m(row);
  if (ew_lash_stops(change))
    ew_build_find(
        c, about,
        ew_message(&lash_changed, valve, ew_say_change("change", EW_KIND_LENGTH, change, 2)));
  if (ew_lash_stops(row->growth_m - others_m))
    ew_build_find(c, about,
                  ew_message(&lash_growth, valve, say_length("growth", row->growth_m, 2),
                             say_length("others", others_m, 2)));
  if (fabs(row->hot_m - row->wanted_m) > 0.03e-3 * (1 + 1e-9))
    ew_build_find(c, about,
                  ew_message(&lash_hot, valve, say_length("hot", row->hot_m, 2),
                             say_length("wanted", row->wanted_m, 2)));
  if (isnan(row->cold_m) && isnan(row->hot_m))
    ew_build_find(c, about, ew_message(&lash_unread, valve));
}

static void check_lash(struct ew_build_checking *c) {
  if (c->build->records[EW_BUILD_LASH]->len == 0)
    return;
  if (ew_lifters_are_hydraulic(c->engine)) {
    ew_build_find(c, "lash", ew_message_plain(&lash_hydraulic));
    return;
  }
  g_autoptr(GArray) rows = ew_lash_rows(c->build, c->engine);
  double median[2] = {median_growth(rows, 0), median_growth(rows, 1)};
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_lash_row *row = &g_array_index(rows, struct ew_lash_row, i);
    check_lash_row(c, row, median[row->side]);
  }
}

static void check_torques(struct ew_build_checking *c) {
  const struct ew_build_torque *t;
  guint dry = 0;
  EW_BUILD_EACH(c->build, TORQUE, struct ew_build_torque, t, i) {
    g_autofree char *about = about_of(t->fastener, t->position, NULL);
    g_autoptr(ew_message) what = what_of(t->fastener, t->position, NULL);
    struct ew_argument w = ew_say_message("what", what);
    if (t->torque_n_m < t->low_n_m || t->torque_n_m > t->high_n_m)
      ew_build_find(c, about,
                    ew_message(&torque_off, w,
                               ew_build_say("torque", EW_KIND_TORQUE, t->torque_n_m),
                               ew_build_say("low", EW_KIND_TORQUE, t->low_n_m),
                               ew_build_say("high", EW_KIND_TORQUE, t->high_n_m)));
    if (t->stretch_m < t->stretch_low_m || t->stretch_m > t->stretch_high_m)
      ew_build_find(c, about,
                    ew_message(&stretch_off, w, say_length("stretch", t->stretch_m, 3),
                               say_length("low", t->stretch_low_m, 3),
                               say_length("high", t->stretch_high_m, 3)));
    dry += t->lubricant == NULL;
  }
  if (dry)
    ew_build_find(c, "torque records", ew_message(&dry_threads, ew_say_count("count", dry)));
}

static struct ew_argument say_place(const char *name, const char *place) {
  return place ? ew_say_text(name, place) : ew_say_word(name, &word_no_place);
}

static void check_parts(struct ew_build_checking *c) {
  const struct ew_build_part *part, *other;
  EW_BUILD_EACH(c->build, PART, struct ew_build_part, part, i) {
    struct ew_argument what = ew_say_text("what", part->part);
    if (part->fluid && !part->batch)
      ew_build_find(c, part->part, ew_message(&no_batch, what));
    EW_BUILD_EACH(c->build, PART, struct ew_build_part, other, k)
    if (k > i && part->serial && g_strcmp0(part->serial, other->serial) == 0 &&
        g_ascii_strcasecmp(part->part, other->part) == 0 &&
        g_strcmp0(part->position, other->position) != 0)
      ew_build_find(c, part->part,
                    ew_message(&serial_twice, what, ew_say_text("serial", part->serial),
                               say_place("one", part->position),
                               say_place("other", other->position)));
  }
}

/* The last look at each place counts. */
static void check_seen(struct ew_build_checking *c) {
  const struct ew_build_seen *seen, *later;
  EW_BUILD_EACH(c->build, SEEN, struct ew_build_seen, seen, i) {
    gboolean over = FALSE;
    EW_BUILD_EACH(c->build, SEEN, struct ew_build_seen, later, k)
    over |= k > i && g_ascii_strcasecmp(seen->what, later->what) == 0 &&
            g_strcmp0(seen->position, later->position) == 0;
    if (over || seen->grade == 0)
      continue;
    g_autofree char *about = about_of(seen->what, seen->position, NULL);
    g_autoptr(ew_message) what = what_of(seen->what, seen->position, NULL);
    ew_build_find(c, about,
                  ew_message(seen->grade == 2 ? &seen_stop : &seen_watch,
                             ew_say_message("what", what), ew_say_text("says", seen->says)));
  }
}

static void check_chambers(struct ew_build_checking *c) {
  const GArray *chambers = c->engine->compression.chambers;
  for (guint i = 0; chambers && i < c->lines->len; i++) {
    const struct ew_build_line *line = &g_array_index(c->lines, struct ew_build_line, i);
    int number = ew_build_position_number(line->position);
    if (line->value.count == 0 || !ew_build_is(c->build, line->name, "chamber volume") ||
        number < 1 || (guint)number > chambers->len)
      continue;
    double stated = g_array_index(chambers, double, number - 1);
    if (fabs(line->value.mean - stated) > 0.3e-6)
      ew_build_find(c, line->name,
                    ew_message(&chamber_in_file, ew_say_text("what", line->name),
                               ew_say_count("cylinder", number),
                               ew_build_say("measured", EW_KIND_VOLUME, line->value.mean),
                               ew_build_say("stated", EW_KIND_VOLUME, stated)));
  }
}

static int by_severity(gconstpointer a, gconstpointer b) {
  const ew_message *const *x = a, *const *y = b;
  return (int)ew_message_severity(*y) - (int)ew_message_severity(*x);
}

GPtrArray *ew_build_check(const struct ew_build *build, const struct ew_engine *engine,
                          const struct ew_build_result *result) {
  struct ew_build_checking c = {build, engine, ew_build_lines(build, engine), ew_messages_new()};
  for (guint i = 0; i < c.lines->len; i++)
    check_line(&c, &g_array_index(c.lines, struct ew_build_line, i));
  check_missing(&c);
  check_bores(&c);
  check_spread(&c);
  check_change(&c);
  check_chambers(&c);
  check_seen(&c);
  check_lash(&c);
  check_torques(&c);
  check_parts(&c);
  ew_build_check_steps(&c, result);
  ew_build_check_agreed(&c, result);
  check_instruments(&c);
  g_ptr_array_sort(c.findings, by_severity);
  g_array_unref(c.lines);
  return c.findings;
}
