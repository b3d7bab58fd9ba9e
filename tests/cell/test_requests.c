/* Alarm and request as one machine: every path of the diagram in cell/outputs.h, and the table of
 * alarm x clear x exchange x output failure in which each shut-down that trips has to ask. */
#include "near.h"
#include "desk/record_session.h"
#include <stdlib.h>
#include <unistd.h>

/* ---- the request alone ---- */

struct sender {
  guint tries, fails; /* `fails` more tries fail */
  GString *sent, *said;
};

static gboolean send_line(const char *line, gpointer user) {
  struct sender *s = user;
  s->tries++;
  if (s->fails > 0) {
    s->fails--;
    return FALSE;
  }
  g_string_append_printf(s->sent, "%s;", line);
  return TRUE;
}

static void said(const char *name, gboolean done, const ew_message *why, gpointer user) {
  struct sender *s = user;
  assert_true(done == (why == NULL));
  g_string_append_printf(s->said, "%s%s;", done ? "" : "NOT ", name);
}

static struct ew_alarm_table *table_of(const char *yaml) {
  static const struct ew_alarm_context unknown = {NAN, NAN, NAN, NAN, NAN};
  g_autoptr(GError) error = NULL;
  g_autoptr(ew_node) root = ew_node_parse("t", yaml, strlen(yaml), &error);
  struct ew_alarm_table *table = root ? ew_alarm_table_read(root, "t", &unknown, &error) : NULL;
  if (!table)
    fail_msg("%s", error->message);
  return table;
}

#define TWO                                                                                        \
  "outputs:\n  - {name: throttle, kind: send, line: throttle 0}\n"                                 \
  "  - {name: load, kind: send, line: load 0, speed_below: 1000 rpm, releases_load: yes}\n"
#define OTHER "outputs:\n  - {name: ignition, kind: send, line: ignition 0}\n"

/* One letter a step: a ask, w withdraw, o other outputs, t the two again, f the next try fails,
 * F the next three fail; v step at 5,000 rpm, l at 500 rpm, u speed unknown; each step 0.2 s later. */
static const struct {
  const char *says, *steps, *sent, *told;
  enum ew_request ends;
} paths[] = {
    {"nothing is sent unasked", "vlu", "", "", EW_REQUEST_IDLE},
    {"the throttle at once, the load when speed is down", "avvul", "throttle 0;load 0;",
     "throttle;load;", EW_REQUEST_ASKED},
    {"an unknown speed is never down", "auuuuu", "throttle 0;", "throttle;", EW_REQUEST_ASKING},
    {"done is done", "allllll", "throttle 0;load 0;", "throttle;load;", EW_REQUEST_ASKED},
    {"a second asking after the first is done", "alal", "throttle 0;load 0;throttle 0;load 0;",
     "throttle;load;throttle;load;", EW_REQUEST_ASKED},
    {"a second asking during the first", "avavl", "throttle 0;throttle 0;load 0;",
     "throttle;throttle;load;", EW_REQUEST_ASKED},
    {"asked twice before a step is asked once", "aal", "throttle 0;load 0;", "throttle;load;",
     EW_REQUEST_ASKED},
    {"withdrawn before speed is down", "avwlll", "throttle 0;", "throttle;", EW_REQUEST_IDLE},
    {"withdrawn, and asked again", "avwval", "throttle 0;throttle 0;load 0;",
     "throttle;throttle;load;", EW_REQUEST_ASKED},
    {"withdrawing twice, or what was never asked", "wwvaw", "", "", EW_REQUEST_IDLE},
    {"fails once and comes back", "favvvvl", "throttle 0;load 0;", "NOT throttle;throttle;load;",
     EW_REQUEST_ASKED},
    {"a failure is told once, however often it is tried", "Favvvvvvvvvvvv", "throttle 0;",
     "NOT throttle;throttle;", EW_REQUEST_ASKING},
    {"a failure holds up no other", "Fal", "", "NOT throttle;NOT load;", EW_REQUEST_ASKING},
    {"asked again while it fails", "favavvvvl", "throttle 0;load 0;", "NOT throttle;throttle;load;",
     EW_REQUEST_ASKED},
    {"withdrawn while it fails: not tried again", "favwvvvvvv", "", "NOT throttle;",
     EW_REQUEST_IDLE},
    {"the load is not taken off at speed when its first try failed", "avflvvvvvv", "throttle 0;",
     "throttle;NOT load;", EW_REQUEST_ASKING},
    {"other outputs while idle", "oav", "ignition 0;", "ignition;", EW_REQUEST_ASKED},
    {"other outputs during a request begin again with them", "avov", "throttle 0;ignition 0;",
     "throttle;ignition;", EW_REQUEST_ASKED},
    {"fewer outputs than were done already", "alov", "throttle 0;load 0;ignition 0;",
     "throttle;load;ignition;", EW_REQUEST_ASKED},
    {"more outputs than before", "oavtl", "ignition 0;throttle 0;load 0;",
     "ignition;throttle;load;", EW_REQUEST_ASKED},
    {"other outputs while one fails", "favov", "ignition 0;", "NOT throttle;ignition;",
     EW_REQUEST_ASKED},
};

static void walk(struct ew_outputs *o, struct sender *s, const char *steps,
                 struct ew_alarm_table *two, struct ew_alarm_table *other) {
  double now_s = 0;
  for (const char *c = steps; *c; c++)
    switch (*c) {
    case 'a': ew_outputs_ask(o); break;
    case 'w': ew_outputs_withdraw(o); break;
    case 'o': ew_outputs_use(o, other->outputs); break;
    case 't': ew_outputs_use(o, two->outputs); break;
    case 'f': s->fails = 1; break;
    case 'F': s->fails = 3; break;
    case 'v': ew_outputs_step(o, now_s += 0.2, 5000); break;
    case 'l': ew_outputs_step(o, now_s += 0.2, 500); break;
    case 'u': ew_outputs_step(o, now_s += 0.2, NAN); break;
    default: fail_msg("no step '%c'", *c);
    }
}

static void test_every_path(void **state) {
  (void)state;
  g_autoptr(ew_alarm_table) two = table_of(TWO), other = table_of(OTHER);
  for (gsize i = 0; i < G_N_ELEMENTS(paths); i++) {
    struct sender s = {.sent = g_string_new(NULL), .said = g_string_new(NULL)};
    struct ew_outputs *o = ew_outputs_new(send_line, said, &s);
    ew_outputs_use(o, two->outputs);
    walk(o, &s, paths[i].steps, two, other);
    if (strcmp(s.sent->str, paths[i].sent) || strcmp(s.said->str, paths[i].told) ||
        ew_outputs_state(o) != paths[i].ends)
      fail_msg("%s: sent '%s', told '%s', ends in %d", paths[i].says, s.sent->str, s.said->str,
               ew_outputs_state(o));
    ew_outputs_free(o);
    g_string_free(s.sent, TRUE);
    g_string_free(s.said, TRUE);
  }
}

static void test_what_was_never_done_is_told_at_the_end(void **state) {
  (void)state;
  g_autoptr(ew_alarm_table) two = table_of(TWO);
  struct sender s = {.sent = g_string_new(NULL), .said = g_string_new(NULL)};
  struct ew_outputs *o = ew_outputs_new(send_line, said, &s);
  ew_outputs_use(o, two->outputs);
  ew_outputs_ask(o);
  ew_outputs_step(o, 0, 5000);
  ew_outputs_free(o);
  assert_string_equal(s.said->str, "throttle;NOT load;");
  g_string_free(s.sent, TRUE);
  g_string_free(s.said, TRUE);
}

/* ---- a session: alarms, clearing, exchange, and a source that takes the lines or does not ---- */

struct fake_source {
  struct ew_source base;
  struct sender sender;
};

static gboolean fake_send(struct ew_source *source, const char *line) {
  return send_line(line, &((struct fake_source *)source)->sender);
}

static const struct ew_source_class fake_class = {.scheme = "tcp", .send = fake_send};

struct rig {
  struct ew_session live;
  struct ew_record_options options;
  struct fake_source source;
  struct ew_feed feed;
  double time_s, inside[4];
  char *tables[2];
  struct ew_alarm_table *two;
};

static struct ew_book *book; /* one for all of them: only settings are read */
static char *folder;

static const char *const limits[] = {"1.0 bar", "1.5 bar"};

static char *rig_table(const char *limit) {
  return g_strdup_printf(
      "alarms:\n"
      "  - {name: oil, watch: oil_pressure, action: shut down, says: a b c d, below: %s}\n"
      "  - {name: coolant, watch: coolant_temperature, action: shut down, says: a b c d, "
      "above: 105 degC}\n"
      "  - {name: hot, watch: oil_temperature, action: notice, says: a b c d, above: 120 degC}\n%s",
      limit, OTHER); /* a table's own outputs are not used */
}

static void nobody(const struct ew_record_news *news, gpointer user) {
  (void)news, (void)user;
}

static void rig_open(struct rig *r) {
  static const enum ew_channel channels[] = {EW_CHANNEL_SPEED, EW_CHANNEL_OIL_PRESSURE,
                                             EW_CHANNEL_COOLANT_TEMPERATURE,
                                             EW_CHANNEL_OIL_TEMPERATURE};
  *r = (struct rig){.time_s = 0};
  for (int i = 0; i < 2; i++) {
    g_autofree char *text = rig_table(limits[i]), *name = g_strdup_printf("%d.yaml", i);
    r->tables[i] = g_build_filename(folder, name, NULL);
    assert_true(g_file_set_contents(r->tables[i], text, -1, NULL));
  }
  r->source.base = (struct ew_source){.class = &fake_class, .url = (char *)"tcp://x?control=yes"};
  r->source.sender = (struct sender){.sent = g_string_new(NULL), .said = g_string_new(NULL)};
  r->feed = (struct ew_feed){.live = &r->live, .source = &r->source.base, .inside = r->inside};
  r->feed.channels = g_array_new(FALSE, TRUE, sizeof(struct ew_live_channel));
  for (gsize i = 0; i < G_N_ELEMENTS(channels); i++) {
    struct ew_live_channel one = {.channel = channels[i]};
    g_array_append_val(r->feed.channels, one);
  }
  r->live = (struct ew_session){.options = &r->options, .says = nobody, .speed_arrival_s = NAN};
  r->live.feeds = g_ptr_array_new();
  g_ptr_array_add(r->live.feeds, &r->feed);
  r->live.trips = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_trip));
  ew_session_news_open(&r->live);
  r->options.alarms_name = "none";
  assert_true(ew_session_open_outputs(&r->live, NULL) &&
              ew_session_open_alarms(&r->live, book, NULL));
  r->two = table_of(TWO);
  ew_outputs_use(r->live.outputs, r->two->outputs);
}

static void rig_close(struct rig *r) {
  ew_outputs_free(r->live.outputs);
  ew_session_news_close(&r->live);
  ew_alarms_free(r->live.alarms);
  ew_alarm_table_free(r->live.machine);
  ew_alarm_table_free(r->two);
  ew_own_curves_free(r->live.own);
  g_ptr_array_unref(r->live.feeds);
  g_array_unref(r->live.trips);
  g_array_unref(r->feed.channels);
  g_string_free(r->source.sender.sent, TRUE);
  g_string_free(r->source.sender.said, TRUE);
  g_free(r->tables[0]);
  g_free(r->tables[1]);
}

enum beyond { NONE = 0, OIL = 1, COOLANT = 2, HOT = 4 };

static void decide(struct rig *r, int beyond, int rows) {
  for (int i = 0; i < rows; i++) {
    r->inside[0] = 3000;
    r->inside[1] = beyond & OIL ? 2e4 : 4e5;
    r->inside[2] = beyond & COOLANT ? 390 : 350;
    r->inside[3] = beyond & HOT ? 400 : 360;
    r->feed.arrival_s = ew_monotonic_s();
    ew_session_decide(&r->feed, r->time_s += 0.01);
  }
}

static guint standing(const struct rig *r) {
  return ew_alarms_standing(r->live.alarms, EW_ALARM_SHUT_DOWN, NULL);
}

/* What went before the trip in question. */
static const struct first {
  const char *says;
  int beyond;
} firsts[] = {{"nothing", NONE},       {"a notice", HOT},
              {"the same one", OIL},   {"another shut-down", COOLANT},
              {"both", OIL | COOLANT}, {"the same, and a notice", OIL | HOT}};
static const struct clear {
  const char *says, *name;
  gboolean over; /* what was watched is back before it is cleared */
} clears[] = {{"no clear", NULL, TRUE},
              {"clear all", "all", TRUE},
              {"clear all, twice", "all", TRUE},
              {"clear by name", "oil", TRUE},
              {"clear another name", "coolant", TRUE},
              {"clear of no such name", "nonsense", TRUE},
              {"clear while it is still beyond", "all", FALSE}};
enum exchange { KEPT, SAME, OTHER_LIMIT, EXCHANGES };
static const char *const exchanges[] = {"no exchange", "the same table", "another limit"};
enum failure { FINE, FAILS_BEFORE, FAILS_ONCE, FAILS_ALL_ALONG, FAILURES };
static const char *const failures[] = {"outputs work", "an output failed before and came back",
                                       "an output fails once", "an output goes on failing"};

static guint trips_asked, trips_seen;

/* The trip in question, of each shut-down that can trip now: the first output is tried at once. */
static void must_ask(struct rig *r, int beyond, const char *says) {
  guint before = standing(r), tries = r->source.sender.tries;
  decide(r, beyond, 3);
  guint fresh = standing(r) - before;
  trips_seen += fresh > 0;
  if (fresh > 0 && r->source.sender.tries > tries)
    trips_asked++;
  else if (fresh > 0)
    fail_msg("%s: tripped, and nothing was asked", says);
  assert_true(ew_outputs_state(r->live.outputs) != EW_REQUEST_IDLE || standing(r) == 0);
}

/* Begins and ends with nothing beyond, nothing tripped and the first table in force. */
static void one_case(struct rig *r, const struct first *first, const struct clear *clear,
                     enum exchange exchange, enum failure failure) {
  g_autofree char *says = g_strdup_printf("%s; %s; %s; %s", first->says, clear->says,
                                          exchanges[exchange], failures[failure]);
  r->source.sender.fails = failure == FAILS_BEFORE ? 1 : failure == FAILS_ALL_ALONG ? 1000000 : 0;
  if (first->beyond)
    must_ask(r, first->beyond, says);
  if (clear->over)
    decide(r, first->beyond & HOT, 3); /* the notice goes on */
  for (int i = 0; clear->name && i < (strstr(clear->says, "twice") ? 2 : 1); i++)
    ew_session_clear_alarms(&r->live, clear->name);
  if (exchange != KEPT)
    ew_session_exchange_alarms(&r->live, r->tables[exchange == OTHER_LIMIT]);
  decide(r, first->beyond & HOT, 3);
  if (failure == FAILS_ONCE)
    r->source.sender.fails = 1;
  must_ask(r, OIL, says);
  must_ask(r, OIL | COOLANT, says);
  assert_int_equal(standing(r), 2); /* both stand now, whatever went before */
  ew_session_clear_alarms(&r->live, "all");
  assert_int_equal(standing(r), 2); /* still beyond */
  decide(r, NONE, 3);
  ew_session_clear_alarms(&r->live, "all");
  assert_int_equal(standing(r), 0);
  assert_int_equal(ew_outputs_state(r->live.outputs), EW_REQUEST_IDLE);
  must_ask(r, COOLANT, says);
  decide(r, NONE, 3);
  ew_session_clear_alarms(&r->live, "all");
  ew_session_exchange_alarms(&r->live, r->tables[0]);
  assert_int_equal(ew_alarms_tripped(r->live.alarms), 0);
}

static void test_every_trip_asks(void **state) {
  (void)state;
  struct rig r;
  rig_open(&r);
  ew_session_exchange_alarms(&r.live, r.tables[0]); /* there were none before */
  assert_non_null(r.live.alarms);
  decide(&r, NONE, 400);
  for (gsize a = 0; a < G_N_ELEMENTS(firsts); a++)
    for (gsize c = 0; c < G_N_ELEMENTS(clears); c++)
      for (int e = 0; e < EXCHANGES; e++)
        for (int f = 0; f < FAILURES; f++)
          one_case(&r, &firsts[a], &clears[c], (enum exchange)e, (enum failure)f);
  rig_close(&r);
  print_message("%u of %u trips asked\n", trips_asked, trips_seen);
  assert_int_equal(trips_asked, trips_seen);
  assert_true(trips_seen > 1000);
}

static void test_by_hand(void **state) {
  (void)state;
  struct rig r;
  rig_open(&r);
  ew_session_shut_down(&r.live); /* without any alarms */
  assert_string_equal(r.source.sender.sent->str, "throttle 0;");
  ew_session_exchange_alarms(&r.live, r.tables[0]);
  ew_session_clear_alarms(&r.live, "oil");
  assert_int_equal(ew_outputs_state(r.live.outputs), EW_REQUEST_ASKING); /* by name: it goes on */
  ew_session_shut_down(&r.live);                                         /* twice */
  ew_session_clear_alarms(&r.live, "all");
  assert_int_equal(ew_outputs_state(r.live.outputs), EW_REQUEST_IDLE);
  assert_string_equal(r.source.sender.sent->str, "throttle 0;throttle 0;");
  rig_close(&r);
}

static void test_locked_in_a_pull(void **state) {
  (void)state;
  struct rig r;
  rig_open(&r);
  ew_session_exchange_alarms(&r.live, r.tables[0]);
  const struct ew_alarm_table *was = ew_alarms_table(r.live.alarms);
  ew_alarms_begin_pull(r.live.alarms, 0);
  ew_session_exchange_alarms(&r.live, r.tables[1]);
  assert_ptr_equal(ew_alarms_table(r.live.alarms), was);
  decide(&r, NONE, 400);
  must_ask(&r, OIL, "in a pull");
  rig_close(&r);
}

static int make_book(void **state) {
  (void)state;
  folder = g_dir_make_tmp("ew-requests-XXXXXX", NULL);
  g_setenv("XDG_CONFIG_HOME", folder, TRUE); /* no outputs of this machine */
  g_autofree char *path = g_build_filename(folder, "b.book", NULL);
  book = ew_book_open(path, TRUE, NULL);
  return book ? 0 : -1;
}

static int remove_book(void **state) {
  (void)state;
  ew_book_close(book);
  g_autofree char *command = g_strdup_printf("rm -r '%s'", folder);
  g_free(folder);
  return system(command);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_every_path),
      cmocka_unit_test(test_what_was_never_done_is_told_at_the_end),
      cmocka_unit_test(test_every_trip_asks),
      cmocka_unit_test(test_by_hand),
      cmocka_unit_test(test_locked_in_a_pull),
  };
  return cmocka_run_group_tests(tests, make_book, remove_book);
}
