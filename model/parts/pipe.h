/* Laws of one pipe: its flow and the energy that goes with it. Private to model/. */
#ifndef SWH_MODEL_PARTS_PIPE_H
#define SWH_MODEL_PARTS_PIPE_H

#include "model/parts/parts.h"

/* the node that follows a cell of the rear evaporator */
static inline int after_rear(int i)
{
    return i < SWH_NODE_REAR_LAST ? i + 1 : SWH_NODE_ACCUMULATOR;
}

/* A pipe's flow is linear in the pressure difference within about this [Pa2, squared] of zero: within 1 kPa
 * anywhere, within 3 kPa between the vessels that hold liquid (end of the condenser, receiver, subcooling
 * pass, liquid line). There the head of the liquid itself is a few kPa (a quarter of a metre), which this
 * model does not know, and the root's steep slope would be the hardest corner of all the rates. Measured: 1
 * kPa there would move the pressures of a steady circuit by 0.01 bar, those of a cycling one by 0.003 bar and
 * the rotor by 0.01 K (99 % of rows). */
static const double PIPE_LINEAR = 1e6, VESSEL_LINEAR = 9e6;

/* m = K sqrt(rho dP), density of the upstream side blended over twice the root of `linear`, linear within
 * about that root of zero: K sqrt(rho) swh_signed_sqrt(dP, ..) with the roots shared */
static inline double pipe_flow(double K, double linear, double P_a, double P_b, double rho_a, double rho_b)
{
    const double dP = P_a - P_b;
    const double inverse = 1 / sqrt(dP * dP + linear);
    const double up = 0.5 * (1 + dP * inverse);
    const double rho = rho_b + up * (rho_a - rho_b);
    return K * dP * sqrt(rho * inverse);
}

/* The flow with its derivatives: with the pressure difference, and with the density of either end. */
struct flow_derivatives {
    double m, dP, rho_a, rho_b;
};

static inline struct flow_derivatives pipe_derivatives(double K, double linear, double P_a, double P_b,
                                                       double rho_a, double rho_b)
{
    const double dP = P_a - P_b;
    const double inverse = 1 / sqrt(dP * dP + linear);
    const double up = 0.5 * (1 + dP * inverse);
    const double rho = rho_b + up * (rho_a - rho_b);
    const double root = sqrt(rho * inverse);
    const double cube = inverse * inverse * inverse;
    const double half = 0.5 * K * dP / root; /* slope with rho * inverse */
    const double m_rho = half * inverse;
    return (struct flow_derivatives){
        K * dP * root, K * root + half * cube * (0.5 * linear * (rho_a - rho_b) * inverse - rho * dP),
        up * m_rho, (1 - up) * m_rho};
}

/* (1e-4 kg/s)2: over this flow the switch between the enthalpies of both sides is rounded */
static const double CARRY_ROUNDED = 1e-8;

/* Energy [W] that m (positive a -> b) takes along from the side it comes from. The upwind switch is rounded
 * over 1e-4 kg/s: in a standing pipe liquid and vapour pass each other. */
static inline double energy_flow(double flow, double h_a, double h_b)
{
    const double root = sqrt(flow * flow + CARRY_ROUNDED);
    return 0.5 * ((flow + root) * h_a + (flow - root) * h_b);
}

#endif
