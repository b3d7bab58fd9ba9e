/* The recorder as a state machine: a whole session over loopback, with events at random from a seed: rows, bad
 * rows, repeated ones, words, other headers, breaks, silence of a channel and of a source, control lines,
 * trips, and a disk that fails. What must hold, whatever comes:
 *
 *   every row that the live thread took is in the book at the end, once, and no other;
 *   nothing is said to be stored that is not there;
 *   a figure that is shown is that of its own row, and none is shown of a source that fell silent;
 *   every shut-down that trips asks, and says whether it could. */
#include "faulty_disk.h"
#include "near.h"
#include "book/stream.h"
#include "book/verify.h"
#include "cell/live_channels.h"
#include "desk/record.h"
#include <arpa/inet.h>
#include <glib/gstdio.h>
#include <poll.h>
#include <signal.h>
#include <sys/socket.h>
#include <unistd.h>

#define ROWS_MOST 200000
#define LONG_S    30.0 /* no event takes so long, however busy the machine */

static const char *const table = "alarms:\n"
                                 "  - {name: overspeed, watch: speed, action: shut down, says: "
                                 "shut throttle keep load, above: 6000 rpm}\n"
                                 "  - {name: oil lost, watch: lost(oil_pressure), action: shut "
                                 "down, says: shut throttle keep load, "
                                 "above: 0 s, hold: 0.2 s}\n"
                                 "outputs:\n"
                                 "  - {name: shut the throttle, kind: send, line: throttle 0}\n";

struct peer {
  int listener, line; /* line -1: broken */
  int port;
};

struct session {
  GRand *random;
  struct peer a, b;
  int control[2];
  char *path;
  atomic_int stop;
  gboolean good;
  /* what was sent: oil by the row's number, NaN for none */
  double *oil;
  gint number;
  double time_s;
  gboolean wide; /* the other header */
  char last[200];
  /* what was seen; guarded by the mutex */
  GMutex mutex;
  GCond news;
  GArray *seen;         /* gint, numbers */
  gboolean shown;       /* the last oil of A's that was shown is a figure */
  GHashTable *stored;   /* recording: rows said to be stored */
  gboolean owed, asked; /* a trip that has not asked yet; the request stands */
  guint trips, requests, storage, ended;
};

static struct peer listen_on(void) {
  struct sockaddr_in at = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
  socklen_t size = sizeof at;
  struct peer p = {.listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0), .line = -1};
  assert_int_equal(bind(p.listener, (struct sockaddr *)&at, sizeof at), 0);
  assert_int_equal(listen(p.listener, 4), 0);
  getsockname(p.listener, (struct sockaddr *)&at, &size);
  p.port = ntohs(at.sin_port);
  return p;
}

static void meet(struct peer *p) {
  struct pollfd one = {p->listener, POLLIN, 0};
  if (p->line >= 0)
    return;
  assert_true(poll(&one, 1, (int)(1000 * LONG_S)) > 0);
  p->line = accept(p->listener, NULL, NULL);
}

static void put(struct peer *p, const char *text) {
  char heard[256];
  meet(p);
  while (recv(p->line, heard, sizeof heard, MSG_DONTWAIT) > 0)
    ; /* what it is asked for */
  if (send(p->line, text, strlen(text), MSG_NOSIGNAL) < 0) {
    close(p->line);
    p->line = -1;
  }
}

static void leave(struct peer *p) {
  if (p->line >= 0)
    close(p->line);
  p->line = -1;
}

/* ---- what the session says ---- */

static gboolean has(const char *json, const char *part) {
  return strstr(json, part) != NULL;
}

static double figure_of(const char *json, const char *key) {
  g_autofree char *quoted = g_strdup_printf("\"%s\":", key);
  const char *at = strstr(json, quoted);
  return at ? g_ascii_strtod(at + strlen(quoted), NULL) : (double)NAN;
}

static void hear_alarm(struct session *s, const char *json) {
  if (has(json, "\"action\":\"clear\"") && figure_of(json, "standing") == 0)
    s->asked = FALSE;
  if (!has(json, "\"action\":\"shut down\""))
    return;
  s->trips++;
  s->owed |= !s->asked;
}

static void says(const struct ew_record_news *news, gpointer user) {
  struct session *s = user;
  const char *json = news->json;
  g_mutex_lock(&s->mutex);
  if (news->event == EW_RECORD_COMMIT)
    g_hash_table_insert(s->stored, GINT_TO_POINTER((gint)figure_of(json, "recording")),
                        GINT_TO_POINTER((gint)figure_of(json, "stored_rows")));
  else if (news->event == EW_RECORD_ALARM)
    hear_alarm(s, json);
  else if (news->event == EW_RECORD_REQUEST) {
    s->requests++;
    s->owed = FALSE;
    s->asked = TRUE;
  } else if (news->event == EW_RECORD_STORAGE)
    s->storage++;
  else if (news->event == EW_RECORD_END)
    s->ended += has(json, "\"all_stored\":true");
  g_cond_broadcast(&s->news);
  g_mutex_unlock(&s->mutex);
}

/* A's rows have a number, which is no channel known here, and B's have none. */
static void sees(const GArray *channels, double time_s, const double *inside, gpointer user) {
  struct session *s = user;
  (void)time_s;
  if (channels->len < 5)
    return;
  int oil = ew_live_find(channels, EW_CHANNEL_OIL_PRESSURE, 0);
  g_mutex_lock(&s->mutex);
  s->shown = oil >= 0 && !isnan(inside[oil]);
  if (!isnan(inside[0])) {
    gint number = (gint)inside[0];
    g_array_append_val(s->seen, number);
    double sent = s->oil[number];
    if (s->shown && !(fabs(inside[oil] - 1e5 * sent) < 1e-3))
      g_error("row %d shows an oil pressure of %g, and %g bar was sent", number, inside[oil], sent);
  }
  g_cond_broadcast(&s->news);
  g_mutex_unlock(&s->mutex);
}

static gpointer record(gpointer user) {
  struct session *s = user;
  g_autofree char *a = g_strdup_printf("tcp://127.0.0.1:%d?control=yes", s->a.port);
  g_autofree char *b = g_strdup_printf("tcp://127.0.0.1:%d", s->b.port);
  const char *sources[] = {a, b, NULL};
  struct ew_record_options options = {.book_path = s->path,
                                      .sources = sources,
                                      .power = TRUE,
                                      .alarms_yaml = table,
                                      .alarms_name = "test",
                                      .for_s = INFINITY,
                                      .control_fd = s->control[0],
                                      .sees = sees};
  g_autoptr(GError) error = NULL;
  s->good = ew_record_run(&options, says, s, &s->stop, &error);
  if (error)
    print_message("%s\n", error->message);
  return NULL;
}

/* ---- events ---- */

static void header(struct session *s) {
  s->last[0] = 0; /* behind a header the same row again is another sender's */
  put(&s->a, s->wide
                 ? "Time [s],Number,RPM [rpm],Torque [N.m],Throttle [%],Oil pressure [bar],Lambda\n"
                 : "Time [s],Number,RPM [rpm],Torque [N.m],Throttle [%],Oil pressure [bar]\n");
}

static void one_row(struct session *s, double rpm, double oil_bar) {
  gint n = ++s->number;
  char oil[32] = "";
  assert_true(n < ROWS_MOST);
  s->oil[n] = oil_bar;
  s->time_s += 0.01;
  if (!isnan(oil_bar))
    g_snprintf(oil, sizeof oil, "%.4f", oil_bar);
  g_snprintf(s->last, sizeof s->last, "%.2f,%d,%.1f,%.1f,%d,%s%s\n", s->time_s, n, rpm + n % 13,
             20.0 + n % 7, 10, oil, s->wide ? ",0.88" : "");
  put(&s->a, s->last);
}

static double usual_oil(const struct session *s) {
  return 4 + 0.0007 * (s->number % 1000);
}

static void some_rows(struct session *s, double rpm, gboolean oil) {
  for (int i = g_rand_int_range(s->random, 1, 40); i > 0; i--)
    one_row(s, rpm, oil ? usual_oil(s) : (double)NAN);
}

static void rubbish(struct session *s) {
  static const char *const some[] = {"Torque,high\n",  "1,2\n",  "err\n",        "\001\002\377,,\n",
                                     "Logger ready\n", "# ok\n", ",,,,,,,,,,\n", "RPM low\n"};
  for (int i = g_rand_int_range(s->random, 1, 6); i > 0; i--)
    put(&s->a, some[g_rand_int_range(s->random, 0, G_N_ELEMENTS(some))]);
}

static void control(struct session *s) {
  static const char *const lines[] = {"mark what was heard\n",
                                      "begin\n",
                                      "end\n",
                                      "arm\n",
                                      "disarm\n",
                                      "clear all\n",
                                      "clear overspeed\n",
                                      "nonsense\n",
                                      "\001\n",
                                      "alarms /nowhere\n",
                                      "mark \n"};
  const char *line = lines[g_rand_int_range(s->random, 0, G_N_ELEMENTS(lines))];
  assert_int_equal(write(s->control[1], line, strlen(line)), (gssize)strlen(line));
}

/* Until the last row is taken; then the source is silent, and nothing of it may stay on the screen. */
static void silence(struct session *s) {
  gint64 until = g_get_monotonic_time() + (gint64)(1e6 * LONG_S);
  one_row(s, 3000, usual_oil(s));
  g_mutex_lock(&s->mutex);
  while (s->seen->len == 0 || g_array_index(s->seen, gint, s->seen->len - 1) < s->number)
    if (!g_cond_wait_until(&s->news, &s->mutex, until))
      fail_msg("row %d was not taken", s->number);
  while (s->shown)
    if (!g_cond_wait_until(&s->news, &s->mutex, until))
      fail_msg("a silent source is shown as live");
  g_mutex_unlock(&s->mutex);
}

static void do_event(struct session *s) {
  int what = g_rand_int_range(s->random, 0, 100);
  if (what < 55)
    some_rows(s, 3000, TRUE);
  else if (what < 62)
    some_rows(s, 3000, FALSE);
  else if (what < 68)
    rubbish(s);
  else if (what < 74)
    control(s);
  else if (what < 79)
    some_rows(s, 6500, TRUE);
  else if (what < 83)
    put(&s->a, s->last); /* once more */
  else if (what < 86)
    set_fault(FULL + g_rand_int_range(s->random, 0, 3), g_rand_int_range(s->random, 0, 30), 2);
  else if (what < 92) {
    char row[64];
    g_snprintf(row, sizeof row, "%.2f,%.3f\n", s->time_s, 4.5 + 0.001 * (s->number % 50));
    put(&s->b, row);
  } else if (what < 94) {
    s->wide = !s->wide;
    header(s);
  } else if (what < 95) {
    leave(&s->a);
    if (g_rand_boolean(s->random))
      put(&s->a, "Logger ready\n");
    header(s);
  } else if (what < 96) {
    leave(&s->b);
    put(&s->b, "Time [s],Oil pressure [bar]\n");
  } else if (what < 97)
    silence(s);
  else
    g_usleep((gulong)g_rand_int_range(s->random, 0, 30000));
}

/* ---- what must hold at the end ---- */

static gboolean collect(const double *values, gsize rows, gsize columns, gpointer user) {
  for (gsize i = 0; i < rows; i++) {
    gint number = (gint)values[i * columns + 1];
    g_array_append_val(user, number);
  }
  return TRUE;
}

static gint rising(gconstpointer a, gconstpointer b) {
  return *(const gint *)a - *(const gint *)b;
}

/* The rows with a number have six columns or seven, time among them. */
static void check_book(struct session *s) {
  struct ew_book *book = ew_book_open(s->path, FALSE, NULL);
  struct ew_verification v;
  g_autoptr(GArray) kept = g_array_new(FALSE, FALSE, sizeof(gint));
  assert_true(ew_book_verify(book, NULL, &v, NULL));
  assert_true(v.whole);
  for (guint i = 0; i < v.rows->len; i++) {
    const struct ew_verified_recording *r = &g_array_index(v.rows, struct ew_verified_recording, i);
    gpointer said;
    if (!g_hash_table_lookup_extended(s->stored, GINT_TO_POINTER((gint)r->id), NULL, &said))
      continue;
    assert_int_equal(r->rows, GPOINTER_TO_INT(said));
    g_autoptr(GBytes) text = ew_stream_table(book, r->id, NULL);
    if (g_str_has_prefix(g_bytes_get_data(text, NULL), "Time [s],Number"))
      ew_stream_each(book, r->id, collect, kept, NULL);
  }
  ew_verification_clear(&v);
  ew_book_close(book);
  g_array_sort(kept, rising);
  g_array_sort(s->seen, rising);
  assert_int_equal(kept->len, s->seen->len);
  for (guint i = 0; i < kept->len; i++) {
    assert_int_equal(g_array_index(kept, gint, i), g_array_index(s->seen, gint, i));
    assert_true(i == 0 || g_array_index(kept, gint, i) > g_array_index(kept, gint, i - 1));
  }
}

static void drop(const char *path) {
  g_autofree char *folder = g_path_get_dirname(path);
  for (const char *const *end = (const char *const[]){"", "-wal", "-shm", "-recorder", NULL}; *end;
       end++) {
    g_autofree char *name = g_strconcat(path, *end, NULL);
    g_unlink(name);
  }
  g_rmdir(folder);
}

static void session(guint32 seed, int events) {
  g_autofree char *folder = g_dir_make_tmp("ew-session-XXXXXX", NULL);
  struct session s = {.random = g_rand_new_with_seed(seed),
                      .a = listen_on(),
                      .b = listen_on(),
                      .path = g_build_filename(folder, "a.book", NULL),
                      .oil = g_new0(double, ROWS_MOST),
                      .seen = g_array_new(FALSE, FALSE, sizeof(gint)),
                      .stored = g_hash_table_new(NULL, NULL)};
  set_fault(NONE, 0, 0);
  assert_int_equal(pipe(s.control), 0);
  ew_book_close(ew_book_open(s.path, TRUE, NULL));
  GThread *thread = g_thread_new("record", record, &s);
  put(&s.a, "Logger ready\n");
  header(&s);
  put(&s.b, "Time [s],Oil pressure [bar]\n");
  for (int i = 0; i < events; i++)
    do_event(&s);
  set_fault(NONE, 0, 0);
  header(&s);
  for (int i = 0; i < 100; i++) /* a header that changed of late is believed after fifty rows */
    one_row(&s, 3000, usual_oil(&s));
  silence(&s);
  assert_int_equal(write(s.control[1], "stop\n", 5), 5);
  g_thread_join(thread);
  print_message("seed %u: %d rows sent, %u taken, %u trips, %u requests, storage told %u times\n",
                seed, s.number, s.seen->len, s.trips, s.requests, s.storage);
  assert_true(s.good && s.ended == 1);
  assert_true(s.seen->len > 100);
  assert_false(s.owed); /* every shut-down asked */
  check_book(&s);
  leave(&s.a);
  leave(&s.b);
  close(s.a.listener);
  close(s.b.listener);
  close(s.control[0]);
  close(s.control[1]);
  g_array_unref(s.seen);
  g_hash_table_unref(s.stored);
  g_rand_free(s.random);
  g_free(s.oil);
  drop(s.path);
  g_free(s.path);
}

static void test_sessions(void **state) {
  (void)state;
  const char *seeds = g_getenv("EW_SESSIONS"), *first = g_getenv("EW_SESSION_SEED");
  int count = seeds ? atoi(seeds) : 2;
  install();
  for (int i = 0; i < count; i++)
    session((guint32)(first ? atoi(first) : 1) + (guint32)i, 250);
}

int main(void) {
  signal(SIGPIPE, SIG_IGN);
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_sessions)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
