/* What is said of a recording that was added: what it lacks, from where its time is taken, whether it was there before, and once for
 * each kind of file that a profile would settle what was taken as usual. */
#include "desk/add_parts.h"
#include "base/zone.h"
#include "pull/findings.h"
#include "desk/recorder.h"
#include <math.h>
#include <string.h>

EW_MESSAGE(no_pull_but_counted, "desk.no-pull-but-counted", EW_NOTE,
           "no pull in it: its hours, heat cycles and seconds above each speed are counted");
EW_MESSAGE(no_pull_found, "desk.file-without-pull", EW_CAUTION, "no pull found: {reason}");
EW_MESSAGE(
    same_figures, "desk.same-figures", EW_NOTE,
    "the same figures are already in the book, saved in another way (recording {recording}): "
    "nothing was added");
EW_MESSAGE(same_bytes, "desk.same-bytes", EW_NOTE,
           "the same bytes are already in the book: nothing was added");

EW_MESSAGE(time_of_file, "desk.time-of-file", EW_NOTE,
           "it ran at {time}, by the date and clock in the file");
EW_MESSAGE(
    time_of_stamp, "desk.time-of-stamp", EW_NOTE,
    "it ran at {time}, by the file's time stamp: if not, say when with --at \"YYYY-MM-DD HH:MM\"");

EW_MESSAGE(
    recorder_unknown, "desk.recorder-unknown", EW_NOTE,
    "first file with these columns, and some of it was taken as usual: 'enginewright recorder "
    "new NAME --like \"{file}\"' keeps how this recorder's files are read");

/* What a profile would settle: units that nobody named, and for which fuel an air-fuel ratio is scaled. */
static gboolean wants_profile(const struct adding *a) {
  const struct ew_series *series = a->processed->series;
  for (guint c = 0; c < series->channels_count; c++) {
    const struct ew_series_channel *one = &series->channels[c];
    if (one->unit_assumed && one->channel < EW_CHANNELS_COUNT && one->channel != EW_CHANNEL_SPEED)
      return TRUE;
    if (one->unit && g_ascii_strcasecmp(one->unit, "afr") == 0)
      return TRUE;
  }
  return ew_series_find(series, EW_CHANNEL_AIR_FUEL_RATIO, 0) != NULL;
}

#define PROPOSED_KEY   "recorders proposed" /* the beginnings of their fingerprints */
#define PROPOSED_DIGIT 16

/* Once for each kind of file. That it was said is remembered as far as the book takes it: saying it twice does no harm. */
static ew_message *propose_recorder(struct adding *a) {
  if (a->options->cut || a->recorder || a->options->channel_map || a->processed->curves->len == 0 ||
      !wants_profile(a))
    return NULL;
  g_autofree char *fingerprint = ew_fingerprint_of(a->processed->layout), *said = NULL;
  fingerprint[PROPOSED_DIGIT] = 0;
  if (!ew_setting_get(a->desk->book, PROPOSED_KEY, &said, NULL) ||
      (said && strstr(said, fingerprint)))
    return NULL;
  g_autofree char *now = g_strconcat(said ? said : "", said ? " " : "", fingerprint, NULL);
  ew_keep_setting(a->desk->book, PROPOSED_KEY, now, NULL);
  return ew_message(&recorder_unknown, ew_say_text("file", a->name));
}

static ew_message *when_taken(const struct adding *a) {
  GTimeZone *zone = ew_book_zone(a->desk->book, NULL);
  g_autofree char *text = zone ? ew_zone_show(zone, a->at) : g_strdup(a->at);
  return ew_message(a->when.from == EW_FROM_FILE ? &time_of_file : &time_of_stamp,
                    ew_say_text("time", text));
}

EW_MESSAGE_MANY(of_station, "desk.station-added", EW_NOTE,
                "{readings} reading of the cell's own weather station, {from} to {to}: pulls that "
                "run then take it",
                "{readings} readings of the cell's own weather station, {from} to {to}: pulls "
                "that run then take it");
EW_MESSAGE(pulls_beside, "desk.station-pulls", EW_CAUTION,
           "pulls that ran meanwhile without weather read for them: {pulls}; 'enginewright pull "
           "amend --pulls {pulls} --weather station --reason ...' gives them the station's");

#define MOST_BESIDE 40

/* Does a fact of its weather come from nobody, or from a pull before? */
static gboolean is_without(const struct ew_pull_row *row) {
  g_autoptr(GArray) told = ew_told_read(row->told);
  const struct ew_told *pressure = ew_told_find(told, EW_TOLD_PRESSURE);
  return !row->discarded && pressure &&
         (pressure->from == EW_FROM_UNKNOWN || pressure->from == EW_FROM_CARRIED);
}

static void take_station_notes(const struct adding *a, GPtrArray *notes) {
  const struct ew_series *series = a->processed->series;
  GTimeZone *zone = ew_book_zone(a->desk->book, NULL);
  double end_s = a->when.unix_s + series->time_s[series->rows - 1];
  g_autofree char *end = ew_instant_write(end_s);
  g_autofree char *from = zone ? ew_zone_show(zone, a->at) : g_strdup(a->at),
                  *to = zone ? ew_zone_show(zone, end) : g_strdup(end);
  ew_messages_add(notes, ew_message(&of_station, ew_say_count("readings", (gint64)series->rows),
                                    ew_say_text("from", from), ew_say_text("to", to)));
  if (a->when.doubt)
    ew_messages_add(notes, ew_message_copy(a->when.doubt));
  g_autoptr(GString) pulls = g_string_new(NULL);
  guint count = 0;
  for (guint i = 0; i < a->rows->len && count < MOST_BESIDE; i++) {
    const struct ew_pull_row *row = &g_array_index(a->rows, struct ew_pull_row, i);
    double at = ew_instant(row->at);
    if (at < a->when.unix_s || at > end_s + a->own.method.weather_age_s || !is_without(row))
      continue;
    g_string_append_printf(pulls, "%s%" G_GINT64_FORMAT, count++ ? " " : "", row->id);
  }
  if (count)
    ew_messages_add(notes, ew_message(&pulls_beside, ew_say_text("pulls", pulls->str)));
}

EW_MESSAGE(clock_ahead, "desk.file-clock-ahead", EW_CAUTION,
           "by its own clock it ran {ahead} after the file was written: is that clock of another "
           "zone (UTC)? 'zone:' in the recorder's profile, or --at, says so");

static void take_notes(struct adding *a, struct ew_added *added) {
  ew_messages_copy(a->processed->series->notes, added->notes);
  if (a->processed->curves->len == 0 && g_strcmp0(a->options->purpose, "break-in") == 0)
    ew_messages_add(added->notes, ew_message_plain(&no_pull_but_counted));
  else if (a->is_station)
    take_station_notes(a, added->notes);
  else if (a->processed->curves->len == 0)
    ew_messages_add(added->notes,
                    ew_message(&no_pull_found, ew_say_message("reason", a->processed->why_none)));
  if (a->processed->curves->len == 0 && !a->is_station) /* with a pull they hold it */
    ew_messages_copy(a->findings->pdata[0], added->notes);
  if (a->processed->curves->len)
    ew_messages_add(added->notes, ew_carried_too_old(&a->carried, a->prior.id));
  if (a->processed->curves->len)
    ew_messages_add(added->notes,
                    ew_carried_station(&a->carried, ew_book_zone(a->desk->book, NULL)));
  if (!isnan(a->when.ahead_s))
    ew_messages_add(added->notes, ew_message(&clock_ahead, ew_say_quantity("ahead", EW_KIND_TIME,
                                                                           a->when.ahead_s, 0)));
  if (a->when.from == EW_FROM_FILE ||
      (a->when.from == EW_FROM_STAMP && ew_now_s() - a->when.unix_s > 600))
    ew_messages_add(added->notes, when_taken(a));
}

EW_MESSAGE(others_moved, "desk.pulls-moved", EW_CAUTION,
           "it ran before pulls that were already in the book ({pulls}), and after a stop: they "
           "count as run after that stop now; ask again what was asked about them");

#define MOST_LISTED 12

/* Pulls that were added before it and ran after it. */
static ew_message *moved_by(const struct adding *a) {
  g_assert(a->place.moved->len > 0);
  const GArray *moved = a->place.moved;
  g_autoptr(GString) pulls = g_string_new(NULL);
  for (guint i = 0; i < MIN(moved->len, MOST_LISTED); i++)
    g_string_append_printf(pulls, "%s%" G_GINT64_FORMAT, i ? ", " : "",
                           g_array_index(moved, struct ew_pull_place, i).id);
  if (moved->len > MOST_LISTED)
    g_string_append(pulls, " ...");
  return ew_message(&others_moved, ew_say_text("pulls", pulls->str));
}

static void tell_known(const struct ew_kept_recording *kept, GPtrArray *notes) {
  if (kept->known_figures)
    ew_messages_add(notes, ew_message(&same_figures, ew_say_count("recording", kept->id)));
  else if (kept->known_bytes)
    ew_messages_add(notes, ew_message_plain(&same_bytes));
}

void ew_add_notes(struct adding *a, const struct ew_kept_recording *kept, struct ew_added *added) {
  g_assert(added->notes && a->processed);
  take_notes(a, added);
  if (a->doubt)
    ew_messages_add(added->notes, g_steal_pointer(&a->doubt));
  tell_known(kept, added->notes);
  if (added->known_before)
    return;
  ew_messages_add(added->notes, propose_recorder(a));
  if (a->place.moved->len && added->pull_ids->len)
    ew_messages_add(added->notes, moved_by(a));
}
