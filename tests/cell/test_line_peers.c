/* A host's name may have several addresses: the one that answers is found, and found again. */
#include "cell/source.h"
#include <arpa/inet.h>
#include <math.h>
#include <netdb.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* The system's look-up, in its place: "two.test" is 127.0.0.2, where nobody listens, and 127.0.0.1. */
static struct addrinfo answers[2];
static struct sockaddr_in addresses[2];

int getaddrinfo(const char *node, const char *service, const struct addrinfo *hints,
                struct addrinfo **found) {
  assert_string_equal(node, "two.test");
  for (int i = 0; i < 2; i++) {
    addresses[i] =
        (struct sockaddr_in){.sin_family = AF_INET,
                             .sin_port = htons((uint16_t)g_ascii_strtoll(service, NULL, 10)),
                             .sin_addr.s_addr = htonl(i ? 0x7f000001 : 0x7f000002)};
    answers[i] = (struct addrinfo){.ai_family = AF_INET,
                                   .ai_socktype = hints->ai_socktype,
                                   .ai_addr = (struct sockaddr *)&addresses[i],
                                   .ai_addrlen = sizeof addresses[i],
                                   .ai_next = i ? NULL : &answers[1]};
  }
  *found = answers;
  return 0;
}
void freeaddrinfo(struct addrinfo *found) {
  assert_ptr_equal(found, answers);
}

static int listener(int *port) {
  struct sockaddr_in here = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(0x7f000001)};
  socklen_t size = sizeof here;
  int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  assert_int_equal(bind(fd, (struct sockaddr *)&here, sizeof here), 0);
  assert_int_equal(listen(fd, 4), 0);
  assert_int_equal(getsockname(fd, (struct sockaddr *)&here, &size), 0);
  *port = ntohs(here.sin_port);
  return fd;
}

struct heard {
  int connected, lost;
};

static void take(gpointer user, enum ew_source_event event, const ew_message *what) {
  struct heard *heard = user;
  (void)what;
  heard->connected += event == EW_SOURCE_CONNECTED;
  heard->lost += event == EW_SOURCE_LOST;
}

/* Reads on, with a clock of its own, until `count` becomes `want`; bounded by that clock. */
static gboolean until(struct ew_source *source, const struct ew_source_sink *sink, double *clock_s,
                      const int *count, int want) {
  for (int i = 0; i < 5000 && *count < want; i++, *clock_s += 0.01) {
    source->class->read(source, sink, *clock_s);
    g_usleep(200);
  }
  return *count == want;
}

static void the_address_that_answers(void **state) {
  (void)state;
  int port, server = listener(&port);
  g_autofree char *url = g_strdup_printf("tcp://two.test:%d", port);
  g_autoptr(GError) error = NULL;
  struct ew_source *source = ew_source_open(url, &error);
  assert_non_null(source);
  struct heard heard = {0};
  struct ew_source_sink sink = {.event = take, .user = &heard};
  double clock_s = 1;
  assert_true(until(source, &sink, &clock_s, &heard.connected, 1));
  assert_int_equal(heard.lost,
                   0); /* an address that does not answer is no loss while another does */
  close(accept(server, NULL, NULL));
  assert_true(until(source, &sink, &clock_s, &heard.lost, 1));
  assert_true(until(source, &sink, &clock_s, &heard.connected, 2));
  close(accept(server, NULL, NULL));
  close(server); /* nobody is left: said once, and tried again from the first */
  assert_true(until(source, &sink, &clock_s, &heard.lost, 2));
  assert_false(until(source, &sink, &clock_s, &heard.lost, 3));
  assert_int_equal(heard.connected, 2);
  ew_source_close(source);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(the_address_that_answers)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
