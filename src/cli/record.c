/* Live work: recording from sources, and the practice cell as a logger on a socket. */
#include "base/plain.h"
#include "base/as_pointer.h"
#include "cell/alarm_spec.h"
#include "base/words.h"
#include "cell/live_engine.h"
#include "cell/source.h"
#include "book/keep.h"
#include "cli/trips.h"
#include "desk/record.h"
#include "cli/shop_copy.h"
#include "shop/shipper.h"
#include <gio/gio.h>
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

static atomic_int stopped; /* also by a signal: lock-free */
static void on_signal(int number) {
  (void)number;
  stopped = 1;
}

static void catch_signals(void) {
  struct sigaction action = {.sa_handler = on_signal};
  sigaction(SIGINT, &action, NULL);
  sigaction(SIGTERM, &action, NULL);
  signal(SIGPIPE, SIG_IGN); /* whoever reads our lines may go: recording goes on */
}

static const struct ew_option_spec record_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book (the usual one if left out)"), FALSE},
    {"source", EW_TEXT("URL"), EW_TEXT("where samples come from; may be repeated"), FALSE},
    {"durability", "power|process",
     EW_TEXT("what 'stored' means: safe after a power cut, or after the program ends"), FALSE},
    {"engine", EW_TEXT("NAME"), EW_TEXT("number or name (default: the last one added)"), FALSE},
    {"set", EW_TEXT("NAME=VALUE"), EW_TEXT("part of the set-up; may be repeated"), FALSE},
    {"changed", EW_TEXT("TEXT"), EW_TEXT("what changed since the last pull"), FALSE},
    {"alarms", EW_TEXT("FILE"),
     EW_TEXT("alarm table (default: the book's, else the template); 'none': no alarms"), FALSE},
    {"sensors", EW_TEXT("FILE"), EW_TEXT("calibration of raw channels, in YAML"), FALSE},
    {"limit", "Q", EW_TEXT("highest speed allowed today (the engine's agreed limit)"), FALSE},
    {"rate", "Q", EW_TEXT("commanded acceleration of sweeps, for the runaway alarm"), FALSE},
    {"for", "Q", EW_TEXT("how long (default: until the sources end, or Ctrl-C)"), FALSE},
    {"by-hand", NULL, EW_TEXT("pulls only between 'begin' and 'end' on the control line"), FALSE},
    {"control", EW_TEXT("FILE"),
     EW_TEXT("read control lines from here (a pipe; default: standard input)"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static void say_news(const struct ew_record_news *news, gpointer user) {
  const struct ew_call *call = user;
  const char *line = call->json ? news->json : news->text;
  if (!line)
    return;
  g_autofree char *plain = ew_plain_line(line); /* sources and people say what they like */
  puts(plain);
  fflush(stdout);
}

static gboolean open_control(const struct ew_call *call, const char *const *sources, int *fd,
                             GError **error) {
  const char *path = ew_call_option(call, "control");
  gboolean taken = FALSE;
  for (int i = 0; sources[i]; i++)
    taken |= g_str_has_prefix(sources[i], "stdin:");
  *fd = taken ? -1 : 0;
  if (!path)
    return TRUE;
  *fd = open(path, O_RDWR | O_NONBLOCK | O_CLOEXEC);
  return *fd >= 0 || ew_refuse(error, "--control %s: %s", path, g_strerror(errno));
}

static gboolean run_record(const struct ew_call *call, GError **error) {
  g_autofree const char **sources = ew_call_options(call, "source");
  g_autofree const char **sets = ew_call_options(call, "set");
  const char *durability = ew_call_option(call, "durability");
  g_autofree char *usual = ew_book_default_path();
  const char *book = ew_call_option(call, "book");
  if (book && !ew_shop_is_file(book, error))
    return FALSE;
  struct ew_record_options options = {.book_path = book ? book : usual,
                                      .sources = sources,
                                      .power = !durability || strcmp(durability, "power") == 0,
                                      .engine = ew_call_option(call, "engine"),
                                      .sets = sets,
                                      .changed = ew_call_option(call, "changed"),
                                      .by_hand = ew_call_has(call, "by-hand")};
  if (!sources[0])
    return ew_refuse(error, "--source: not given; name where the samples come from");
  if (durability && !options.power && strcmp(durability, "process") != 0)
    return ew_refuse(error, "--durability '%s' is neither power nor process", durability);
  if (!ew_call_quantity(call, "for", EW_KIND_TIME, NAN, &options.for_s, error) ||
      !ew_call_quantity(call, "limit", EW_KIND_ROTATIONAL_SPEED, NAN, &options.limit_rpm, error) ||
      !ew_call_quantity(call, "rate", EW_KIND_ROTATIONAL_ACCELERATION, NAN, &options.rate_rpm_s,
                        error) ||
      !open_control(call, sources, &options.control_fd, error))
    return FALSE;
  g_autofree char *alarms = NULL;
  if (!ew_record_alarms(options.book_path, ew_call_option(call, "alarms"), &alarms,
                        &options.alarms_name, error))
    return FALSE;
  options.alarms_yaml = alarms;
  g_autofree char *sensors = NULL;
  g_autoptr(GError) problem = NULL;
  if (ew_call_has(call, "sensors") &&
      !g_file_get_contents(ew_call_option(call, "sensors"), &sensors, NULL, &problem))
    return ew_refuse(error, "--sensors: %s", problem->message);
  options.sensors_yaml = sensors;
  catch_signals();
  struct ew_shipper *shipper = ew_ship_beside(NULL, options.book_path);
  gboolean good = ew_record_run(&options, say_news, ew_as_pointer(call), &stopped, error);
  ew_shipper_stop(shipper);
  return good;
}
const struct ew_command ew_command_cell_record = {
    .name = "cell record",
    .summary = EW_TEXT("Record live, with alarms; pulls are cut out and judged as they end"),
    .takes = "",
    .options = record_options,
    .run = run_record,
    .examples =
        "cell record --source tcp://192.0.2.7:5000 --set \"spark=30 deg\"\n"
        "cell record --source \"practice:?run=sweep 2500 6500 300;end\" --book practice.book",
    .more = EW_TEXT(
        "Sources: stdin:, file:PATH, tcp://HOST:PORT, udp://ADDRESS:PORT, serial:/dev/DEVICE, "
        "modbus://HOST:PORT/UNIT?map=FILE, modbus-rtu:/dev/DEVICE?map=FILE, "
        "can:INTERFACE?map=FILE, mqtt://HOST:PORT/TOPIC, practice:, replay:BOOK#RECORDING. With "
        "--json one line reports each event: 'commit' with 'stored_rows' after each durable "
        "commit, 'alarm', 'pull', 'gap', 'storage'. Control lines: mark TEXT, begin, end, arm, "
        "disarm, shut down, send TEXT, clear NAME, clear all, alarms FILE, stop. The practice cell "
        "takes in run=, and after 'send', the lines of 'help cell simulate', and in run= also wait "
        "SECONDS and end. What this program asks of the dyno is a request, not a safety device: a "
        "hard-wired stop, an overspeed trip, and gas and fire systems of their own remain "
        "necessary.")};

/* ---- the table of alarms ---- */

static const struct ew_option_spec alarms_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    {"alarms", EW_TEXT("FILE"), EW_TEXT("this table, not the book's or the template"), FALSE},
    {"keep", NULL, EW_TEXT("keep it in the book as the shop's own"), FALSE},
    {"template", NULL, EW_TEXT("print the template, for editing"), FALSE},
    {"trips", NULL, EW_TEXT("what has tripped, from the book"), FALSE},
    {"trip", "N", EW_TEXT("the samples around this trip, as a table"), FALSE},
    {"before", "Q", EW_TEXT("with --trip: from how long before it (5 s)"), FALSE},
    {"after", "Q", EW_TEXT("with --trip: to how long after it (5 s)"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static void limit_words(const struct ew_alarm_spec *a, GString *text) {
  if (a->above_text)
    g_string_append_printf(text, "> %s ", a->above_text);
  if (a->below_text)
    g_string_append_printf(text, "< %s ", a->below_text);
  if (a->per_speed_text)
    ew_words_append(text, "< %s per 1,000 rpm ", a->per_speed_text);
  if (a->limits_text)
    g_string_append(text, ew_tr("< its line "));
  if (!isnan(a->below_own))
    ew_words_append(text, "< %.0f %% of own curve ", 100 * a->below_own);
  if (!isnan(a->below_last))
    ew_words_append(text, "< %.0f %% of last pull ", 100 * a->below_last);
  if (a->above_own_text)
    ew_words_append(text, "> own curve + %s ", a->above_own_text);
  g_string_truncate(text, text->len - 1);
}

static void say_alarm(const struct ew_alarm_spec *a, struct ew_json *json) {
  g_autoptr(GString) limit = g_string_new(NULL);
  limit_words(a, limit);
  if (!json) {
    ew_say("%-24s %-32s %-30s %5.2f s  %-9s  %s", ew_tr(a->name), a->watch_text, limit->str,
           a->hold_s, ew_tr(ew_alarm_action_names[a->action]), ew_tr(a->says));
    return;
  }
  ew_json_open(json, NULL);
  ew_fields_write_json(&ew_alarm_fields, a, json);
  ew_json_text(json, "limit", limit->str);
  ew_json_close(json);
}

static gboolean run_alarms(const struct ew_call *call, GError **error) {
  g_autofree char *usual = ew_book_default_path(), *text = NULL;
  const char *path = ew_call_has(call, "book") ? ew_call_option(call, "book") : usual, *name;
  if (!ew_shop_is_file(path, error))
    return FALSE;
  if (ew_call_has(call, "template")) {
    g_autoptr(GBytes) bytes = g_resources_lookup_data("/alarms.yaml", 0, NULL);
    fputs(g_bytes_get_data(bytes, NULL), stdout);
    return TRUE;
  }
  if (ew_call_has(call, "trips") || ew_call_has(call, "trip")) {
    g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
    return book && (ew_call_has(call, "trip") ? ew_say_trip : ew_say_trips)(call, book, error);
  }
  if (!ew_record_alarms(path, ew_call_option(call, "alarms"), &text, &name, error))
    return FALSE;
  if (!text)
    return ew_refuse(error, "--alarms none: there is nothing to show");
  struct ew_alarm_context unknown = {NAN, NAN, NAN, NAN, NAN};
  g_autoptr(ew_node) root = ew_node_parse(name, text, strlen(text), error);
  g_autoptr(ew_alarm_table) table = root ? ew_alarm_table_read(root, name, &unknown, error) : NULL;
  if (!table)
    return FALSE;
  if (ew_call_has(call, "keep")) {
    g_autoptr(ew_book) book = ew_call_book(call, TRUE, TRUE, error);
    if (!book || !ew_keep_setting(book, "alarms", text, error))
      return FALSE;
  }
  struct ew_json json = {0};
  if (call->json) {
    json = ew_answer_begin();
    ew_json_text(&json, "from", name);
    ew_json_open_array(&json, "alarms");
  } else
    ew_say("from %s; these are requests, not a safety device", name);
  for (guint i = 0; i < table->alarms->len; i++)
    say_alarm(&g_array_index(table->alarms, struct ew_alarm_spec, i), call->json ? &json : NULL);
  if (!call->json && table->outputs->len)
    ew_say("the table's own outputs are not used: outputs belong to this machine ('enginewright "
           "cell outputs')");
  if (call->json) {
    ew_json_close_array(&json);
    ew_answer_end(&json);
  }
  return TRUE;
}
const struct ew_command ew_command_cell_alarms = {
    .name = "cell alarms",
    .summary = EW_TEXT("The table of alarms: show, check, keep; and what has tripped"),
    .takes = "",
    .options = alarms_options,
    .run = run_alarms,
    .examples = "cell alarms --template > alarms.yaml\ncell alarms --alarms alarms.yaml --keep\n"
                "cell alarms --trips\ncell alarms --trip 1 --before \"10 s\" > trip-1.csv",
    .more =
        EW_TEXT("An alarm is a request to a person or to the dyno's own controls. It is not a "
                "safety device: a hard-wired stop, an overspeed trip, and gas and fire systems of "
                "their own remain necessary. Follow the maker of the dyno and the local rules.")};

/* ---- the practice cell as a logger ---- */

#define CLIENTS 16

static const struct ew_option_spec simulate_options[] = {
    {"port", "N", EW_TEXT("TCP port on this machine; 0 takes a free one and reports it"), FALSE},
    {"seed", "N", EW_TEXT("the same seed gives the same engine (1)"), FALSE},
    {"rate", "Q", EW_TEXT("samples a second (100 Hz)"), FALSE},
    {"pace", "N", EW_TEXT("times as fast as real time (1)"), FALSE},
    {"for", "Q", EW_TEXT("how long (default: until Ctrl-C)"), FALSE},
    {NULL, NULL, NULL, FALSE}};

struct simulator {
  struct ew_live_engine *engine;
  int listener;
  struct pollfd clients[CLIENTS + 1]; /* the last one is standard input */
  GString *lines[CLIENTS + 1];        /* what was read of the next control line */
  GString *header, *row;
};

static void send_to(struct simulator *s, int i, const char *text, gsize size) {
  int fd = s->clients[i].fd;
  /* a client that does not read is put off, not waited for */
  if (fd >= 0 && send(fd, text, size, MSG_NOSIGNAL | MSG_DONTWAIT) != (gssize)size) {
    close(fd);
    s->clients[i].fd = -1;
  }
}

static void accept_client(struct simulator *s) {
  int one = 1, fd = accept4(s->listener, NULL, NULL, SOCK_NONBLOCK | SOCK_CLOEXEC);
  for (int i = 0; fd >= 0 && i < CLIENTS; i++)
    if (s->clients[i].fd < 0) {
      setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
      s->clients[i] = (struct pollfd){fd, POLLIN, 0};
      g_string_truncate(s->lines[i], 0);
      send_to(s, i, s->header->str, s->header->len);
      return;
    }
  if (fd >= 0)
    close(fd);
}

static void answer(struct simulator *s, int i, const char *line) {
  if (!*line || g_str_has_prefix(line, "heartbeat"))
    return;
  g_autoptr(ew_message) given = ew_live_engine_command(s->engine, line);
  g_autofree char *reply = ew_live_engine_answer(given);
  g_autofree char *text = g_strdup_printf("# %s\n", reply);
  if (i < CLIENTS)
    send_to(s, i, text, strlen(text));
  else
    ew_say("%s", reply);
}

static void read_client(struct simulator *s, int i) {
  char bytes[4096];
  gssize got = read(s->clients[i].fd, bytes, sizeof bytes);
  if (got <= 0) {
    if (got < 0 && errno == EAGAIN)
      return;
    if (i < CLIENTS)
      close(s->clients[i].fd);
    s->clients[i].fd = -1;
    return;
  }
  g_string_append_len(s->lines[i], bytes, got);
  for (char *end; (end = memchr(s->lines[i]->str, '\n', s->lines[i]->len));) {
    g_autofree char *line = g_strndup(s->lines[i]->str, (gsize)(end - s->lines[i]->str));
    g_string_erase(s->lines[i], 0, end - s->lines[i]->str + 1);
    answer(s, i, g_strstrip(line));
  }
  if (s->lines[i]->len > 4096)
    g_string_truncate(s->lines[i], 0);
}

static gboolean listen_on(int port, int *fd, GError **error) {
  struct sockaddr_in address = {.sin_family = AF_INET,
                                .sin_port = htons((guint16)port),
                                .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
  int one = 1;
  socklen_t size = sizeof address;
  *fd = socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
  setsockopt(*fd, SOL_SOCKET, SO_REUSEADDR, &one, sizeof one);
  if (bind(*fd, (struct sockaddr *)&address, sizeof address) != 0 || listen(*fd, 8) != 0)
    return ew_refuse(error, "--port %d: %s", port, g_strerror(errno));
  getsockname(*fd, (struct sockaddr *)&address, &size);
  ew_say("practice cell on tcp://127.0.0.1:%d", ntohs(address.sin_port));
  fflush(stdout);
  return TRUE;
}

static void simulate(struct simulator *s, double pace, double for_s) {
  double values[EW_LIVE_ENGINE_CHANNELS], begun = ew_monotonic_s();
  while (!stopped && !(ew_live_engine_time_s(s->engine) > for_s)) {
    double at = ew_live_engine_time_s(s->engine);
    double left = CLAMP(begun + at / pace - ew_monotonic_s(), 0, 0.05);
    struct pollfd door = {s->listener, POLLIN, 0};
    struct timespec wait = {0, (long)(left * 1e9)};
    ppoll(s->clients, CLIENTS + 1, &wait, NULL);
    for (int i = 0; i <= CLIENTS; i++)
      if (s->clients[i].fd >= 0 && s->clients[i].revents)
        read_client(s, i);
    if (poll(&door, 1, 0) > 0)
      accept_client(s);
    if (ew_monotonic_s() < begun + at / pace)
      continue;
    ew_live_engine_step(s->engine, values);
    g_string_truncate(s->row, 0);
    ew_live_engine_row(at, values, s->row);
    for (int i = 0; i < CLIENTS; i++)
      send_to(s, i, s->row->str, s->row->len);
  }
}

static gboolean run_simulate(const struct ew_call *call, GError **error) {
  double port, seed, rate, pace, for_s;
  if (!ew_call_quantity(call, "port", EW_KIND_COUNT, 0, &port, error) ||
      !ew_call_quantity(call, "seed", EW_KIND_COUNT, 1, &seed, error) ||
      !ew_call_quantity(call, "rate", EW_KIND_FREQUENCY, 100, &rate, error) ||
      !ew_call_quantity(call, "pace", EW_KIND_NUMBER, 1, &pace, error) ||
      !ew_call_quantity(call, "for", EW_KIND_TIME, NAN, &for_s, error))
    return FALSE;
  if (!(port >= 0 && port < 65536) || !(seed >= 1 && seed < 1e9) || !(rate >= 1 && rate <= 10000) ||
      !(pace > 0 && pace <= 1000))
    return ew_refuse(error, "--port 0 to 65535, --seed from 1, --rate 1 to 10000 Hz, --pace up to "
                            "1000");
  struct simulator s = {.engine = ew_live_engine_new((guint)seed, rate),
                        .header = g_string_new(NULL),
                        .row = g_string_new(NULL)};
  for (int i = 0; i <= CLIENTS; i++) {
    s.clients[i] = (struct pollfd){i < CLIENTS ? -1 : 0, POLLIN, 0};
    s.lines[i] = g_string_new(NULL);
  }
  ew_live_engine_header(s.header);
  catch_signals();
  gboolean good = listen_on((int)port, &s.listener, error);
  if (good)
    simulate(&s, pace, for_s);
  g_autoptr(GPtrArray) lesson = ew_live_engine_lesson(s.engine);
  for (guint i = 0; i < lesson->len; i++) {
    g_autofree char *text = ew_message_text(g_ptr_array_index(lesson, i), EW_UNITS_SI);
    ew_say("practised on, %s", text);
  }
  for (int i = 0; i <= CLIENTS; i++) {
    if (i < CLIENTS && s.clients[i].fd >= 0)
      close(s.clients[i].fd);
    g_string_free(s.lines[i], TRUE);
  }
  close(s.listener);
  g_string_free(s.header, TRUE);
  g_string_free(s.row, TRUE);
  ew_live_engine_free(s.engine);
  return good;
}
const struct ew_command ew_command_cell_simulate = {
    .name = "cell simulate",
    .prints_text = TRUE,
    .summary = EW_TEXT("The practice cell as a logger on a TCP port, with a control line"),
    .takes = "",
    .options = simulate_options,
    .run = run_simulate,
    .examples = "cell simulate --port 5000 --seed 3",
    .more = EW_TEXT("Sends a header line and rows to whoever connects, and takes control lines "
                    "from each client and from standard input: start, stop, speed N, sweep FROM TO "
                    "RATE, throttle N, spark N, lambda X, oil N, coolant N, fault NAME, clear. "
                    "Answers begin with '#'. At the end it reports what was practised on.")};
