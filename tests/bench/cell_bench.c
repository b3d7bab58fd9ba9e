/* The live cell: is the alarm in time, and are rows stored in time?
 *
 *   cell_bench live SECONDS RATE [STALL]   64 channels over TCP into a real session, with the template's
 *       number of alarms; each row carries when it was sent, so that the decision is timed from the
 *       sender's write to the end of the decision; STALL: the book is held by somebody else for 5 s
 *   cell_bench commit N   N commits of 100 rows against N raw appends of the same bytes with fdatasync,
 *       in turn, in one run
 *
 * One line of JSON each; exit code 1 when a limit is missed: decision p99 5 ms, durable p99 100 ms
 * (without a stall), every row stored, commit p99 within 5 times the raw append. */
#include "base/json_writer.h"
#include "book/sql.h"
#include "book/write.h"
#include "book/store.h"
#include "desk/record.h"
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <math.h>
#include <netinet/tcp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <unistd.h>

#define CHANNELS 64

struct sender {
  int listener, port;
  double seconds, rate;
  guint64 rows;
};

static int rising(gconstpointer a, gconstpointer b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}
static double share_of(GArray *values, double share) {
  g_array_sort(values, rising);
  return values->len ? g_array_index(values, double, (guint)(share * (values->len - 1)))
                     : (double)NAN;
}

static void row(GString *text, double now, guint64 n) {
  g_string_printf(text, "%.6f,%d,%.1f,%.2f", now, 3000 + (int)(n % 500), 95.5,
                  250 + (double)(n % 7));
  for (int i = 3; i < CHANNELS; i++)
    g_string_append_printf(text, ",%.3f", 100 + i + (double)((n * 13 + (guint64)i) % 97) / 97);
  g_string_append_c(text, '\n');
}

static void send_all(int fd, const char *text, gsize size) {
  while (size) {
    gssize sent = send(fd, text, size, MSG_NOSIGNAL);
    if (sent <= 0)
      return;
    text += sent;
    size -= (gsize)sent;
  }
}

static gpointer send_rows(gpointer user) {
  struct sender *s = user;
  int one = 1, fd = accept(s->listener, NULL, NULL);
  setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
  g_autoptr(GString) text = g_string_new("Sent [s],RPM [rpm],Throttle [%],Torque [N.m]");
  for (int i = 3; i < CHANNELS; i++)
    g_string_append_printf(text, ",Channel %c%d", 'A' + i % 26, i);
  g_string_append_c(text, '\n');
  send_all(fd, text->str, text->len);
  double begun = ew_monotonic_s();
  for (; s->rows < s->seconds * s->rate; s->rows++) {
    double due = begun + (double)s->rows / s->rate, now = ew_monotonic_s();
    if (due > now)
      g_usleep((gulong)(1e6 * (due - now)));
    row(text, ew_monotonic_s(), s->rows);
    send_all(fd, text->str, text->len);
  }
  shutdown(fd, SHUT_WR);
  g_usleep(200000);
  close(fd);
  return NULL;
}

struct seen {
  GArray *delays;
  guint64 rows;
  double stored_rows, durable_p99_s;
  gboolean all_stored, whole;
  atomic_int stop;
};

static void sees(const GArray *channels, double time_s, const double *inside, gpointer user) {
  struct seen *seen = user;
  double delay = ew_monotonic_s() - inside[0];
  (void)channels, (void)time_s;
  g_array_append_val(seen->delays, delay);
  seen->rows++;
}

static double figure_of(const char *json, const char *key) {
  g_autofree char *quoted = g_strdup_printf("\"%s\":", key);
  const char *at = strstr(json, quoted);
  return at ? g_ascii_strtod(at + strlen(quoted), NULL) : (double)NAN;
}

static void says(const struct ew_record_news *news, gpointer user) {
  struct seen *seen = user;
  if (news->event == EW_RECORD_COMMIT)
    seen->stored_rows = figure_of(news->json, "stored_rows");
  if (news->event == EW_RECORD_SOURCE && strstr(news->json, "\"lost\""))
    seen->stop = 1;
  if (news->event == EW_RECORD_END) {
    seen->durable_p99_s = figure_of(news->json, "durable_p99_s");
    seen->all_stored = strstr(news->json, "\"all_stored\":true") != NULL;
  }
}

static gpointer hold_book(gpointer user) {
  g_usleep(2000000);
  struct ew_book *book = ew_book_open(user, FALSE, NULL);
  if (book && ew_book_begin(book, NULL)) {
    g_usleep(5000000);
    ew_book_rollback(book);
  }
  ew_book_close(book);
  return NULL;
}

static double cpu_s(void) {
  struct rusage use;
  getrusage(RUSAGE_SELF, &use);
  return (double)use.ru_utime.tv_sec + (double)use.ru_stime.tv_sec +
         1e-6 * (double)(use.ru_utime.tv_usec + use.ru_stime.tv_usec);
}

static gboolean listen_on(struct sender *s) {
  struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
  socklen_t size = sizeof address;
  s->listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  if (bind(s->listener, (struct sockaddr *)&address, size) != 0 || listen(s->listener, 1) != 0)
    return FALSE;
  getsockname(s->listener, (struct sockaddr *)&address, &size);
  s->port = ntohs(address.sin_port);
  return TRUE;
}

static const char *const some_alarms =
    "alarms:\n"
    "  - {name: overspeed, watch: speed, action: shut down, says: a b c d, above: 9000 rpm}\n"
    "  - {name: strong, watch: torque, says: a b c d, above: 900 N.m, hold: 0.2 s}\n"
    "  - {name: falling, watch: torque, says: a b c d, below_own: 50 %, hold: 0.2 s}\n"
    "  - {name: runaway, watch: rate(speed), says: a b c d, above: 500000 rpm/s, hold: 0.5 s}\n"
    "  - {name: gone, watch: lost(speed), says: a b c d, above: 0 s, hold: 0.2 s}\n"
    "  - {name: still, watch: frozen(torque), says: a b c d, above: 5 s}\n";

static int bench_live(const char *folder, double seconds, double rate, gboolean stall) {
  struct sender sender = {.seconds = seconds, .rate = rate};
  struct seen seen = {.delays = g_array_new(FALSE, FALSE, sizeof(double))};
  g_autofree char *path = g_build_filename(folder, "live.book", NULL);
  if (!listen_on(&sender))
    return 3;
  g_autofree char *url = g_strdup_printf("tcp://127.0.0.1:%d", sender.port);
  const char *sources[] = {url, NULL};
  struct ew_record_options options = {.book_path = path,
                                      .sources = sources,
                                      .power = TRUE,
                                      .alarms_yaml = some_alarms,
                                      .alarms_name = "bench",
                                      .for_s = NAN,
                                      .control_fd = -1,
                                      .by_hand = TRUE,
                                      .sees = sees};
  g_autoptr(GError) error = NULL;
  ew_book_close(ew_book_open(path, TRUE, NULL));
  GThread *thread = g_thread_new("sender", send_rows, &sender);
  GThread *holder = stall ? g_thread_new("holder", hold_book, path) : NULL;
  double cpu = cpu_s(), begun = ew_monotonic_s();
  gboolean good = ew_record_run(&options, says, &seen, &seen.stop, &error);
  double took = ew_monotonic_s() - begun;
  cpu = cpu_s() - cpu;
  g_thread_join(thread);
  if (holder)
    g_thread_join(holder);
  struct rusage use;
  getrusage(RUSAGE_SELF, &use);
  double p50 = share_of(seen.delays, 0.5), p99 = share_of(seen.delays, 0.99);
  gboolean pass = good && seen.all_stored && seen.rows == sender.rows &&
                  seen.stored_rows == (double)sender.rows && p99 < 5e-3 &&
                  (stall || seen.durable_p99_s < 0.1);
  printf("{\"bench\":\"live\",\"channels\":%d,\"rate_hz\":%g,\"seconds\":%g,\"stall\":%s,"
         "\"sent\":%" G_GUINT64_FORMAT ",\"stored\":%.0f,\"decision_p50_ms\":%.3f,"
         "\"decision_p99_ms\":%.3f,\"decision_most_ms\":%.3f,\"durable_p99_ms\":%.1f,"
         "\"cpu_share\":%.3f,\"peak_kb\":%ld,\"pass\":%s}\n",
         CHANNELS, rate, seconds, stall ? "true" : "false", sender.rows, seen.stored_rows,
         1e3 * p50, 1e3 * p99, 1e3 * share_of(seen.delays, 1), 1e3 * seen.durable_p99_s, cpu / took,
         use.ru_maxrss, pass ? "true" : "false");
  if (error)
    fprintf(stderr, "%s\n", error->message);
  return pass ? 0 : 1;
}

static volatile gint checking = 1;
static gpointer checkpoints(gpointer path) {
  struct ew_book *book = ew_book_open(path, FALSE, NULL);
  ew_book_live(book, TRUE, NULL);
  while (g_atomic_int_get(&checking)) {
    g_usleep(200000);
    ew_book_checkpoint(book, FALSE, NULL);
  }
  ew_book_close(book);
  return NULL;
}

static int bench_commit(const char *folder, guint count) {
  g_autofree char *path = g_build_filename(folder, "commit.book", NULL);
  g_autofree char *raw_path = g_build_filename(folder, "raw", NULL);
  struct ew_book *book = ew_book_open(path, TRUE, NULL);
  GArray *ours = g_array_new(FALSE, FALSE, sizeof(double)),
         *raw = g_array_new(FALSE, FALSE, sizeof(double));
  char *names[CHANNELS], *units[CHANNELS];
  for (int i = 0; i < CHANNELS; i++) {
    names[i] = g_strdup_printf("channel %d", i);
    units[i] = (char *)"";
  }
  struct ew_stream_facts facts = {0, "bench", "bench:", "power", names, units, CHANNELS};
  double *rows = g_new0(double, 100 * (CHANNELS + 1));
  ew_book_live(book, TRUE, NULL);
  ew_book_begin(book, NULL);
  gint64 id = ew_stream_begin(book, &facts, NULL);
  ew_book_commit(book, NULL);
  int fd = open(raw_path, O_CREAT | O_WRONLY | O_APPEND | O_CLOEXEC, 0600);
  GThread *checker = g_thread_new("checkpoint", checkpoints, path);
  gboolean good = fd >= 0;
  for (guint n = 0; good && n < count; n++) {
    for (int i = 0; i < 100 * (CHANNELS + 1); i++)
      rows[i] = n + i * 1e-3;
    gsize size = 100 * (CHANNELS + 1) * sizeof(double);
    double begun = ew_monotonic_s(), took;
    good = ew_book_begin(book, NULL) &&
           ew_stream_append(book, id, n, rows, 100, CHANNELS + 1, NULL) &&
           ew_book_commit(book, NULL);
    took = ew_monotonic_s() - begun;
    g_array_append_val(ours, took);
    begun = ew_monotonic_s();
    good = good && write(fd, rows, size) == (gssize)size && fdatasync(fd) == 0;
    took = ew_monotonic_s() - begun;
    g_array_append_val(raw, took);
  }
  g_atomic_int_set(&checking, 0);
  g_thread_join(checker);
  gint64 stored;
  gboolean there = ew_stream_rows(book, id, &stored, NULL) && stored == (gint64)count * 100;
  ew_book_close(book);
  close(fd);
  double a = share_of(ours, 0.99), b = share_of(raw, 0.99);
  gboolean pass = good && there && a < 5 * b;
  printf("{\"bench\":\"commit\",\"rows\":100,\"channels\":%d,\"commits\":%u,\"commit_p50_ms\":%.3f,"
         "\"commit_p99_ms\":%.3f,\"raw_p50_ms\":%.3f,\"raw_p99_ms\":%.3f,\"ratio_p99\":%.2f,"
         "\"all_rows\":%s,\"pass\":%s}\n",
         CHANNELS, count, 1e3 * share_of(ours, 0.5), 1e3 * a, 1e3 * share_of(raw, 0.5), 1e3 * b,
         a / b, there ? "true" : "false", pass ? "true" : "false");
  return pass ? 0 : 1;
}

int main(int argc, char **argv) {
  g_autofree char *folder = g_dir_make_tmp("cell-bench-XXXXXX", NULL);
  int how = 2;
  if (argc >= 4 && strcmp(argv[1], "live") == 0)
    how =
        bench_live(folder, g_ascii_strtod(argv[2], NULL), g_ascii_strtod(argv[3], NULL), argc > 4);
  else if (argc == 3 && strcmp(argv[1], "commit") == 0)
    how = bench_commit(folder, (guint)g_ascii_strtoull(argv[2], NULL, 10));
  else
    fprintf(stderr, "cell_bench live SECONDS RATE [stall] | commit N\n");
  for (const char *const *name =
           (const char *const[]){"live.book", "live.book-wal", "live.book-shm",
                                 "live.book-recorder", "commit.book", "commit.book-wal",
                                 "commit.book-shm", "raw", NULL};
       *name; name++) {
    g_autofree char *path = g_build_filename(folder, *name, NULL);
    g_unlink(path);
  }
  g_rmdir(folder);
  return how;
}
