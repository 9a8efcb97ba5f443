/* Constants of mathematics and references that several parts share. */
#ifndef SWH_MODEL_BASE_CONSTANTS_H
#define SWH_MODEL_BASE_CONSTANTS_H

#define SWH_PI 3.14159265358979323846

/* Speed at which the coefficients that grow with speed are stated: 2000 rpm, rounded [rev/s]. */
#define SWH_SPEED_REF 33.3

/* Flow at which losses and conductances are stated [kg/s]. */
#define SWH_FLOW_REF 0.05

#endif
