#include "cell/outputs.h"
#include "base/error.h"
#include "cell/output_gpio.h"
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <modbus.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define ANSWER_MS 300

struct ew_outputs {
  ew_output_send send;
  ew_output_says says;
  gpointer user;
  GThreadPool *slow;
  struct ew_gpio_lines *gpio; /* of the slow thread */
  gboolean asked;
  guint next;
};

struct job {
  char *name, *to, *line;
  enum ew_output_kind kind;
  gboolean on;
};

/* Parts of modbus://HOST:PORT/UNIT/coil/ADDRESS; host is freed by the caller. */
static gboolean coil_url(const char *url, char **host, int *port, int *unit, int *address,
                         GError **error) {
  char name[128];
  if (sscanf(url, "modbus://%127[^:/]:%d/%d/coil/%d", name, port, unit, address) != 4 ||
      *port < 1 || *port > 65535 || *unit < 0 || *unit > 255 || *address < 0 || *address > 65535)
    return ew_refuse(error, "'%s': write modbus://HOST:PORT/UNIT/coil/ADDRESS", url);
  *host = g_strdup(name);
  return TRUE;
}

static char *set_coil(const struct job *job) {
  g_autofree char *host = NULL;
  g_autoptr(GError) error = NULL;
  int port, unit, address;
  if (!coil_url(job->to, &host, &port, &unit, &address, &error))
    return g_strdup(error->message);
  modbus_t *bus = modbus_new_tcp(host, port);
  char *why = NULL;
  modbus_set_slave(bus, unit);
  modbus_set_response_timeout(bus, 0, ANSWER_MS * 1000);
  if (modbus_connect(bus) != 0 || modbus_write_bit(bus, address, job->on) != 1)
    why = g_strdup(modbus_strerror(errno));
  modbus_close(bus);
  modbus_free(bus);
  return why;
}

static char *write_file(const struct job *job) {
  int file = open(job->to, O_WRONLY | O_CLOEXEC);
  gssize size = (gssize)strlen(job->line);
  char *why =
      file < 0 || write(file, job->line, (gsize)size) != size ? g_strdup(g_strerror(errno)) : NULL;
  if (file >= 0)
    close(file);
  return why;
}

static void do_job(gpointer data, gpointer user) {
  struct job *job = data;
  struct ew_outputs *o = user;
  g_autofree char *why = job->kind == EW_OUTPUT_COIL   ? set_coil(job)
                         : job->kind == EW_OUTPUT_GPIO ? ew_gpio_drive(o->gpio, job->to, job->on)
                                                       : write_file(job);
  o->says(job->name, why == NULL, why, o->user);
  g_free(job->name);
  g_free(job->to);
  g_free(job->line);
  g_free(job);
}

struct ew_outputs *ew_outputs_new(ew_output_send send_line, ew_output_says says, gpointer user) {
  struct ew_outputs *o = g_new0(struct ew_outputs, 1);
  o->send = send_line;
  o->says = says;
  o->user = user;
  o->gpio = ew_gpio_lines_new(NULL);
  o->slow = g_thread_pool_new(do_job, o, 1, FALSE, NULL); /* one thread: the order is kept */
  return o;
}

void ew_outputs_free(struct ew_outputs *o) {
  if (!o)
    return;
  g_thread_pool_free(o->slow, FALSE, TRUE);
  ew_gpio_lines_free(o->gpio);
  g_free(o);
}

void ew_outputs_ask(struct ew_outputs *o) {
  o->asked = TRUE;
}

void ew_outputs_reset(struct ew_outputs *o) {
  o->asked = FALSE;
  o->next = 0;
}

static void drive(struct ew_outputs *o, const struct ew_output_spec *s) {
  if (s->kind == EW_OUTPUT_SEND) {
    gboolean done = o->send(s->line, o->user);
    o->says(s->name, done,
            done ? NULL : "no source takes lines of its own accord (control=yes in its URL)",
            o->user);
    return;
  }
  struct job *job = g_new0(struct job, 1);
  job->name = g_strdup(s->name);
  job->to = g_strdup(s->to);
  job->line = g_strdup(s->line);
  job->kind = (enum ew_output_kind)s->kind;
  job->on = s->on;
  g_thread_pool_push(o->slow, job, NULL);
}

void ew_outputs_step(struct ew_outputs *o, const struct ew_alarm_table *table, double speed_rpm) {
  while (o->asked && o->next < table->outputs->len) {
    const struct ew_output_spec *s = &g_array_index(table->outputs, struct ew_output_spec, o->next);
    if (!isnan(s->speed_below_rpm) && !(speed_rpm < s->speed_below_rpm))
      return;
    o->next++;
    drive(o, s);
  }
}
