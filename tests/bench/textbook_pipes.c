#include "textbook_pipes.h"
#include <math.h>

struct textbook_pipe *textbook_pipe_new(int cells, double length_m, const double *d,
                                        double wall_k) {
  struct textbook_pipe *pipe = g_new0(struct textbook_pipe, 1);
  pipe->cells = cells;
  pipe->cell = g_new0(struct textbook_cell, cells + 2);
  pipe->area = g_new0(double, cells + 1);
  pipe->flux = g_malloc0(sizeof(double[5]) * (cells + 1));
  for (int i = 0; i <= cells; i++)
    pipe->area[i] = G_PI / 4 * d[i] * d[i];
  for (int i = 1; i <= cells; i++) {
    struct textbook_cell *c = &pipe->cell[i];
    double a = pipe->area[i - 1], b = pipe->area[i], mean = (a + b + sqrt(a * b)) / 3;
    c->length = length_m / cells;
    c->volume = mean * c->length;
    c->diameter = sqrt(4 * mean / G_PI);
    c->area_slope = (b - a) / (mean * c->length);
    c->wall_m2 = G_PI * c->diameter * c->length;
    c->wall_k = wall_k;
    c->heat_factor = 1;
  }
  return pipe;
}

void textbook_pipe_free(struct textbook_pipe *pipe) {
  g_free(pipe->cell);
  g_free(pipe->area);
  g_free(pipe->flux);
  g_free(pipe);
}

void textbook_set(struct textbook_pipe *pipe, int cell, const struct ew_working_gas *gas, double p,
                  double t, double u, double yb, double yf) {
  struct textbook_cell *c = &pipe->cell[cell + 1];
  double m = p / (ew_working_gas_constant(gas, yb, yf) * t) * c->volume;
  c->amount[0] = m;
  c->amount[1] = m * u;
  c->amount[2] = m * (ew_working_gas_energy(gas, yb, yf, t) + u * u / 2);
  c->amount[3] = m * yb;
  c->amount[4] = m * yf;
  c->t = t;
}

static double part(const struct ew_working_gas *gas, int k, double tau) {
  double s = 0;
  for (int i = EW_GAS_TERMS - 1; i >= 0; i--)
    s = s * tau + gas->energy_j_kg[k][i];
  return s;
}

double textbook_primitives(struct textbook_pipe *pipe, const struct ew_working_gas *gas) {
  double rate = 0;
  for (int i = 1; i <= pipe->cells; i++) {
    struct textbook_cell *c = &pipe->cell[i];
    c->rho = c->amount[0] / c->volume;
    c->u = c->amount[1] / c->amount[0];
    c->yb = c->amount[3] / c->amount[0];
    c->yf = c->amount[4] / c->amount[0];
    c->e = c->amount[2] / c->amount[0] - c->u * c->u / 2;
    double mixed[EW_GAS_TERMS], tau = c->t / 1000, slope = 1;
    for (int k = 0; k < EW_GAS_TERMS; k++)
      mixed[k] = gas->energy_j_kg[0][k] +
                 c->yb * (gas->energy_j_kg[2][k] - gas->energy_j_kg[0][k]) +
                 c->yf * (gas->energy_j_kg[1][k] - gas->energy_j_kg[0][k]);
    for (int pass = 0; pass < 2; pass++) {
      double u = 0;
      slope = 0;
      for (int k = EW_GAS_TERMS - 1; k >= 0; k--)
        u = u * tau + mixed[k];
      for (int k = EW_GAS_TERMS - 1; k >= 1; k--)
        slope = slope * tau + k * mixed[k];
      tau -= (u - c->e) / slope;
    }
    double r = ew_working_gas_constant(gas, c->yb, c->yf);
    c->t = tau * 1000;
    c->cv = slope / 1000;
    c->gamma = 1 + r / c->cv;
    c->p = c->rho * r * c->t;
    double air = part(gas, 0, tau);
    c->by_burned = part(gas, 2, tau) - air;
    c->by_fuel = part(gas, 1, tau) - air;
    rate = fmax(rate, (fabs(c->u) + sqrt(c->gamma * r * c->t)) / c->length);
  }
  return rate;
}

static double limited(double a, double b) {
  if (a * b <= 0)
    return 0;
  double centre = (a + b) / 2, size = fmin(2 * fmin(fabs(a), fabs(b)), fabs(centre));
  return centre > 0 ? size : -size;
}

static void ghost(struct textbook_cell *g, const struct textbook_cell *a,
                  const struct textbook_cell *b) {
  g->rho = 2 * a->rho - b->rho;
  g->u = 2 * a->u - b->u;
  g->p = 2 * a->p - b->p;
  g->yb = 2 * a->yb - b->yb;
  g->yf = 2 * a->yf - b->yf;
}

static void predict(struct textbook_cell *c, const struct ew_working_gas *gas, double dt) {
  const struct textbook_cell *b = c - 1, *a = c + 1;
  double d[5] = {limited(c->rho - b->rho, a->rho - c->rho), limited(c->u - b->u, a->u - c->u),
                 limited(c->p - b->p, a->p - c->p), limited(c->yb - b->yb, a->yb - c->yb),
                 limited(c->yf - b->yf, a->yf - c->yf)};
  double q[5] = {c->rho, c->u, c->p, c->yb, c->yf};
  double h = 0.5 * dt / c->length, spread = h * d[1] + 0.5 * dt * c->u * c->area_slope;
  double m[5] = {c->rho - h * c->u * d[0] - c->rho * spread,
                 c->u - h * (c->u * d[1] + d[2] / c->rho),
                 c->p - h * c->u * d[2] - c->gamma * c->p * spread, c->yb - h * c->u * d[3],
                 c->yf - h * c->u * d[4]};
  int safe = m[0] - fabs(d[0]) / 2 > 0.1 * c->rho && m[2] - fabs(d[2]) / 2 > 0.1 * c->p;
  for (int side = 0; side < 2; side++) {
    double *w = side ? c->right : c->left;
    for (int k = 0; k < 5; k++)
      w[k] = safe ? m[k] + (side ? 0.5 : -0.5) * d[k] : q[k];
    double t = w[2] / (w[0] * ew_working_gas_constant(gas, w[3], w[4]));
    double c2 = c->gamma * c->p / c->rho, sound = sqrt(c2);
    w[6] = sound + (c->gamma * w[2] / w[0] - c2) / (2 * sound);
    w[5] = c->e + c->cv * (t - c->t) + c->by_burned * (w[3] - c->yb) + c->by_fuel * (w[4] - c->yf);
  }
}

static void hllc(const double *l, const double *r, double area, double *flux) {
  double sl = fmin(l[1] - l[6], r[1] - r[6]), sr = fmax(l[1] + l[6], r[1] + r[6]);
  double ml = l[0] * (sl - l[1]), mr = r[0] * (sr - r[1]);
  double star = (r[2] - l[2] + l[1] * ml - r[1] * mr) / (ml - mr);
  const double *k = star > 0 ? l : r;
  double s = star > 0 ? sl : sr, m = star > 0 ? ml : mr;
  double total = k[0] * (k[5] + k[1] * k[1] / 2);
  flux[0] = k[0] * k[1];
  flux[1] = flux[0] * k[1] + k[2];
  flux[2] = (total + k[2]) * k[1];
  if (star > 0 ? sl < 0 : sr > 0) {
    double rho = m / (s - star);
    double energy = rho * (total / k[0] + (star - k[1]) * (star + k[2] / m));
    flux[1] += s * (rho * star - k[0] * k[1]);
    flux[2] += s * (energy - total);
    flux[0] += s * (rho - k[0]);
  }
  for (int i = 0; i < 3; i++)
    flux[i] *= area;
  flux[3] = flux[0] * (flux[0] > 0 ? l[3] : r[3]);
  flux[4] = flux[0] * (flux[0] > 0 ? l[4] : r[4]);
}

static void through(const double *w, double area, double *flux) {
  flux[0] = w[0] * w[1] * area;
  flux[1] = flux[0] * w[1] + w[2] * area;
  flux[2] = flux[0] * (w[5] + w[1] * w[1] / 2 + w[2] / w[0]);
  flux[3] = flux[0] * w[3];
  flux[4] = flux[0] * w[4];
}

static void update(struct textbook_cell *c, const double *in, const double *out, double area_in,
                   double area_out, double dt, double friction, double heat) {
  for (int k = 0; k < 5; k++)
    c->amount[k] += dt * (in[k] - out[k]);
  c->amount[1] += dt * c->p * (area_out - area_in);
  double speed = fabs(c->u), cp = c->gamma * c->cv, flow = c->rho * speed;
  double tau = c->t / 1000;
  double viscosity =
      ((3.601002e-06 * tau + -2.022529e-05) * tau + 5.495473e-05) * tau + 3.540601e-06;
  double f = fmax(0.004, 0.0791 / sqrt(sqrt(flow * c->diameter / viscosity + 1)));
  c->amount[1] /= 1 + dt * (2 * friction * f / c->diameter + c->loss_per_m) * speed;
  double h = fmax(4 / 0.707 * viscosity * cp / c->diameter, f * flow * cp * 0.5 / 0.7937);
  double conductance = fmin(heat * h * c->wall_m2 * c->heat_factor * dt, c->amount[0] * c->cv / 2);
  c->amount[2] += conductance * (c->wall_k - c->t);
}

void textbook_step(struct textbook_pipe *pipe, const struct ew_working_gas *gas, double dt,
                   double friction, double heat) {
  int n = pipe->cells;
  struct textbook_cell *c = pipe->cell;
  ghost(&c[0], &c[1], &c[2]);
  ghost(&c[n + 1], &c[n], &c[n - 1]);
  for (int i = 1; i <= n; i++)
    predict(&c[i], gas, dt);
  through(c[1].left, pipe->area[0], pipe->flux[0]);
  through(c[n].right, pipe->area[n], pipe->flux[n]);
  for (int i = 1; i < n; i++)
    hllc(c[i].right, c[i + 1].left, pipe->area[i], pipe->flux[i]);
  for (int i = 1; i <= n; i++)
    update(&c[i], pipe->flux[i - 1], pipe->flux[i], pipe->area[i - 1], pipe->area[i], dt, friction,
           heat);
}
