"""A second vehicle simulation, with equations of its own, that makes logs to try `fit` and `rank` on.

It shares nothing with the program but the subject: quasi-steady zones with lumped liquid stores instead of rows of volumes,
one body instead of six, a polytropic compression with fitted efficiencies, a valve of linear lift, property tables of 14 rows.
What it cannot do (oil, films, wear) is left out. Invented: no value was measured on a vehicle. Saturation of R-134a:
CoolProp 8.0.0, rounded. The forms are textbook ones (effectiveness of an exchanger with one side at constant temperature,
orifice flow, polytropic work), written from memory.

    rows = simulate(vehicle(chance), faults, drive, conditions)

One row a second: a dict of SI values under the names of the log's channels."""
import bisect
import math

# T degC, P bar, rho_f, rho_g kg/m3, h_f, h_g kJ/kg, c_p of saturated vapour kJ/kg/K
SATURATION = (
    (-40, 0.5121, 1417.7, 2.769, 148.14, 374.00, 0.749), (-30, 0.8438, 1388.4, 4.426, 160.79, 380.32, 0.781),
    (-20, 1.327, 1358.3, 6.784, 173.64, 386.55, 0.816), (-10, 2.006, 1327.1, 10.041, 186.70, 392.66, 0.854),
    (0, 2.928, 1294.8, 14.428, 200.00, 398.60, 0.897), (10, 4.146, 1261.0, 20.226, 213.58, 404.32, 0.945),
    (20, 5.717, 1225.3, 27.780, 227.47, 409.75, 1.001), (30, 7.702, 1187.5, 37.535, 241.72, 414.82, 1.065),
    (40, 10.17, 1146.7, 50.085, 256.41, 419.43, 1.145), (50, 13.18, 1102.3, 66.272, 271.62, 423.44, 1.246),
    (60, 16.82, 1052.9, 87.379, 287.50, 426.63, 1.387), (70, 21.17, 996.2, 115.572, 304.28, 428.65, 1.605),
    (80, 26.33, 928.2, 155.078, 322.39, 428.81, 2.012), (90, 32.44, 837.8, 216.761, 342.93, 425.42, 3.121))
LOG_P = [math.log(row[1]) for row in SATURATION]
LOG_G = [math.log(row[3]) for row in SATURATION]
CP_AIR, ZERO = 1006.0, 273.15
STEP = 0.2  # s


def between(T, column):
    """column of SATURATION (or a list) at T degC, straight lines; the last ones go on."""
    i = min(max(int((T + 40) // 10), 0), len(SATURATION) - 2)
    a, b = (column[i], column[i + 1]) if isinstance(column, list) else (SATURATION[i][column], SATURATION[i + 1][column])
    return a + (b - a) * (T - SATURATION[i][0]) / 10


def pressure(T):
    """bar. ln P is nearly straight over 1/T, over T it is not: the bend between rows is added."""
    i = min(max(int((T + 40) // 10), 0), len(SATURATION) - 2)
    Ta, Tb = SATURATION[i][0] + ZERO, SATURATION[i + 1][0] + ZERO
    w = (1 / (T + ZERO) - 1 / Ta) / (1 / Tb - 1 / Ta)
    return math.exp(LOG_P[i] + (LOG_P[i + 1] - LOG_P[i]) * w)


def temperature(P):
    i = min(max(bisect.bisect(LOG_P, math.log(P)) - 1, 0), len(LOG_P) - 2)
    Ta, Tb = SATURATION[i][0] + ZERO, SATURATION[i + 1][0] + ZERO
    w = (math.log(P) - LOG_P[i]) / (LOG_P[i + 1] - LOG_P[i])
    return 1 / (1 / Ta + (1 / Tb - 1 / Ta) * w) - ZERO


def vapour_density(T):
    return math.exp(between(T, LOG_G))


def water(T):
    """humidity ratio of saturated air at 101.3 kPa (Magnus form)"""
    e = 611.2 * math.exp(17.62 * T / (243.12 + T))
    return 0.622 * e / (101325 - e)


# value and whether a made-up vehicle has another one
VEHICLE = dict(
    charge=(0.74, 0.02), displacement=(178e-6, 0.0), fill=(0.80, 0.04), fill_slope=(0.045, 0.2), work=(0.81, 0.05), polytrope=(1.09, 0.0),
    friction=(0.75, 0.2), body=(3600.0, 0.15), gas_body=(12.0, 0.2), suction_body=(7.0, 0.2), body_air=(5.5, 0.2), body_wind=(0.35, 0.3),
    fan_air=(0.62, 0.1), ram_air=(0.021, 0.15), cond_air=(640.0, 0.12), cond_ref=(1500.0, 0.2), cond_metal=(2600.0, 0.1), cond_loss=(0.25, 0.3),
    cond_holds=(0.16, 0.15), subcool_pass=(16.0, 0.2), receiver=(0.32, 0.1), evap_air=(0.19, 0.1), evap_ua=(420.0, 0.12), evap_vapour=(55.0, 0.2),
    evap_holds=(0.11, 0.15), evap_metal=(1800.0, 0.1), valve=(1.75e-6, 0.1), valve_superheat=(5.0, 0.15), valve_range=(5.0, 0.2),
    bulb=(14.0, 0.2), suction_line=(6.0, 0.2), suction_loss=(0.22, 0.3), recirculation=(0.10, 0.3), cabin_mass=(35e3, 0.2), cabin_ua=(55.0, 0.2),
    soak=(2200.0, 0.2), leak=(0.0, 0.0), line=(5.0, 0.3))


def vehicle(chance=None):
    return {k: v * math.exp(chance.gauss(0, s)) if chance and s else v for k, (v, s) in VEHICLE.items()}


class Machine:
    """States: T_c, T_e saturation degC; liquid in receiver and evaporator kg; body, bulb, cabin, shell of the interior, coil."""

    def __init__(self, v, fault, where):
        self.v, self.fault, self.where = dict(v), fault, where
        self.apply()
        a = where["ambient"]
        self.Tc = self.Te = self.T_evap = a
        self.liquid = max(self.v["charge"] - self.v["evap_holds"] * 0.6 - self.v["cond_holds"] * 0.5 - 0.07, 0.0)
        self.wet = 0.5 * self.v["evap_holds"]
        self.body = a + 4
        self.bulb = a
        self.cabin = a if where["doors"] else where["cabin"]
        self.interior = self.cabin
        self.fin = a
        self.mass = 0.02
        self.clutch = True
        self.low_open = self.high_open = self.frost_open = False

    def severity(self, name):
        return self.fault.get(name, 0.0)

    def apply(self):
        v, s = self.v, self.severity
        v["charge"] *= 1 - s("undercharge") + s("overcharge")
        v["face"] = 1 - s("condenser_blocked")
        v["fan_air"] *= 1 - s("fan_dead")
        v["recirculation"] += (0.8 - v["recirculation"]) * s("hot_air_recirculation")
        v["line_hole"] = 3.5e-6 * (1 - s("liquid_line_restricted"))
        v["least"] = s("valve_flooding") and 0.6 + 0.9 * s("valve_flooding")
        v["most"] = 1 - s("valve_starving") if s("valve_starving") else 2
        v["evap_air"] *= 1 - s("evaporator_blocked")
        v["leak"] = 1.1e-6 * s("reed_leaking")  # m2, back through a valve plate
        v["fill"] *= 1 - 0.55 * s("piston_worn")
        v["suction_loss"] *= 1 / (1 - s("suction_restricted")) ** 2
        v["friction"] *= 1 + 3 * s("oil_short")
        v["suction_line"] += 15 * s("suction_line_heated")

    # ---- parts ----
    def air(self, speed):
        v = self.v
        fan, ram = v["fan_air"], v["ram_air"] * speed
        return max(v["face"] * (fan ** 3 + ram ** 3) ** (1 / 3), 0.02)

    def condenser(self, speed):
        """heat taken, air leaving; the liquid that the receiver cannot hold covers tubes"""
        v = self.v
        G = self.air(speed)
        UA = 1 / (1 / (v["cond_air"] * (G / 0.62) ** 0.55) + 1 / v["cond_ref"])
        covered = min(max((self.liquid - v["receiver"]) / (0.9 * v["cond_holds"] + 0.25), 0), 0.9)
        e = 1 - math.exp(-UA * (1 - covered) / (G * CP_AIR))
        r = v["recirculation"] / (1 + (speed / 4) ** 2)
        r_heat = r * e / (1 - r * (1 - e))  # air in again: T_in = T_amb + r (T_out - T_amb)
        T_in = self.where["ambient"] + r_heat * (self.Tc - self.where["ambient"])
        Q = e * G * CP_AIR * (self.Tc - T_in)
        return max(Q, -500.0), T_in, covered

    def compressor(self, N):
        v = self.v
        self.P_e, self.P_c = pressure(self.Te), pressure(self.Tc) + self.foreign()
        if not self.clutch or N <= 0:
            self.P_s = self.P_e
            self.body_heat = 0.0
            return 0.0, 0.0, self.body
        rho = vapour_density(self.Te) * (self.Te + ZERO) / (self.T_suction + ZERO)
        m = self.mass  # of the step before: the pressure loss follows the flow
        for _ in range(3):
            self.P_s = max(self.P_e - v["suction_loss"] * (m / 0.04) ** 2, 0.4)
            P_d = self.P_c + v["cond_loss"] * (m / 0.04) ** 2
            ratio = max(P_d / self.P_s, 1.01)
            rho_s = rho * self.P_s / self.P_e
            fill = max(v["fill"] - v["fill_slope"] * (ratio - 4) - 0.0035 * (N - 25), 0.05)
            back = v["leak"] * math.sqrt(2 * vapour_density(self.Tc) * max(P_d - self.P_s, 0) * 1e5) * 0.6
            forward = v["displacement"] * N * fill * rho_s
            m = 0.7 * m + 0.3 * max(forward - back, 0.02 * forward)
        n = v["polytrope"]
        ideal = n / (n - 1) * self.P_s * 1e5 / rho_s * (ratio ** ((n - 1) / n) - 1)
        work = ideal / v["work"] * forward / m  # leaked gas is compressed again
        T_s = self.T_suction + v["suction_body"] * (self.body - self.T_suction) / (m * 900 + v["suction_body"])
        h = between(self.Te, 5) * 1e3 + 900 * (T_s - self.Te) + work
        hg, cp = between(self.Tc, 5) * 1e3, 1.12e3 * between(self.Tc, 6) / 1.3
        T_gas = self.Tc + max(h - hg, 0) / cp
        cooling = v["gas_body"] * (T_gas - self.body)
        T_out = T_gas - cooling / (m * cp + v["gas_body"])
        rub = v["friction"] * 2 * math.pi * N * (0.5 + 0.5 * (P_d - self.P_s) / 14)
        self.body_heat = rub + cooling - m * 900 * (T_s - self.T_suction)
        return m, h - cooling / max(m, 1e-3), T_out

    def foreign(self):
        return 4 * self.severity("air_in_system") * (self.Tc + ZERO) / 323.15

    def valve_flow(self):
        v = self.v
        lift = max((self.bulb - self.Te - v["valve_superheat"]) / v["valve_range"], 0.02)
        lift = max(min(lift, 1.0), v["least"])
        hole = v["valve"] * min(lift, v["most"])
        hole = 1 / math.sqrt(1 / hole ** 2 + 1 / v["line_hole"] ** 2)
        full = min(self.liquid / 0.025, 1.0)  # receiver: liquid only as long as there is some
        rho_f, rho_g = between(self.Tc, 2), vapour_density(self.Tc)
        x = (1 - full) * 0.5
        rho = 1 / ((1 - x) / rho_f + x / rho_g)
        dP = self.P_c - self.P_e
        m = 0.68 * hole * math.sqrt(2 * rho * abs(dP) * 1e5)
        return (m if dP > 0 else -0.2 * m), x

    def evaporator(self, m_c, T_in):
        v = self.v
        z = min(self.wet / v["evap_holds"], 1.0)
        wet_air = 1 + max(water(self.where["dew"]) - water(self.Te + 2), 0) * 2.5e6 / (CP_AIR * max(T_in - self.Te, 4.0))
        flow = v["evap_air"] * CP_AIR * wet_air
        e = 1 - math.exp(-v["evap_ua"] * z * wet_air ** 0.4 / flow)
        Q_wet = max(flow * e * (T_in - self.Te), 0.0)
        k = v["evap_vapour"] * (1 - z) + 6
        self.T_evap = self.Te + (T_in - self.Te) * (1 - math.exp(-k / (max(m_c, 0.003) * 900))) if z < 1 else self.Te
        Q_dry = m_c * 900 * (self.T_evap - self.Te)
        vent = T_in - (Q_wet + Q_dry) / flow
        return Q_wet, Q_dry, max(vent, self.Te)

    # ---- one step ----
    def step(self, dt, N, speed, sun):
        v, w = self.v, self.where
        bay = w["ambient"] + w["bay_rise"] / (1 + speed / 8) + 0.06 * (self.Tc - w["ambient"])
        T_in = 0.75 * w["ambient"] + 0.25 * self.cabin if w["doors"] else self.cabin
        k = v["suction_line"]
        self.T_suction = self.T_evap + (bay - self.T_evap) * (1 - math.exp(-k / (max(self.mass, 0.003) * 900)))
        carried = max(self.wet / v["evap_holds"] - 1, 0)  # wet gas leaves: liquid boils on the way, superheat is lost
        if carried > 0:
            self.T_suction = self.Te + (self.T_suction - self.Te) * math.exp(-12 * carried)
        m, h_d, T_d = self.compressor(N)
        self.mass = m if m > 0 else 1e-4
        Q_c, T_air, covered = self.condenser(speed)
        latent_c = (between(self.Tc, 5) - between(self.Tc, 4)) * 1e3
        condensing = (Q_c - m * (h_d - between(self.Tc, 5) * 1e3)) / latent_c
        m_v, x_line = self.valve_flow()
        Q_w, Q_dry, vent = self.evaporator(m, T_in)
        pass_UA = v["subcool_pass"] * min(self.liquid / 0.025, 1.0) ** 4 * v["face"] ** 0.5 + 900 * covered
        T_liquid = self.Tc - (self.Tc - T_air) * (1 - math.exp(-pass_UA / (max(m_v, 0.004) * 1500)))
        h_f = between(self.Tc, 4) * 1e3 - 1500 * (self.Tc - T_liquid)
        latent_e = (between(self.Te, 5) - between(self.Te, 4)) * 1e3
        quality = min(max((h_f + x_line * latent_c - between(self.Te, 4) * 1e3) / latent_e, 0), 1)
        boiling = Q_w / latent_e if self.wet > 0 else 0.0
        if self.wet > v["evap_holds"]:  # liquid is carried out
            boiling += min(m * 0.9, 0.5 * (self.wet - v["evap_holds"]))
        # saturation temperatures: mass of vapour in the volumes, and metal that follows
        room_c = 1.4e-3 * 2.0 + v["cond_metal"] / latent_c
        room_e = 1.6e-3 * 0.6 + v["evap_metal"] / latent_e
        self.Tc += dt * (m - condensing - m_v * x_line) / room_c
        self.Te += dt * (m_v * quality + boiling - m) / room_e
        self.Tc, self.Te = min(max(self.Tc, -25), 92), min(max(self.Te, -38), 60)
        self.liquid = max(self.liquid + dt * (condensing - m_v * (1 - x_line)), 0.0)
        self.wet = max(self.wet + dt * (m_v * (1 - quality) - boiling), 0.0)
        self.bulb += dt * (self.T_evap - carried * 8 - self.bulb) / v["bulb"]
        self.fin += dt * (max(vent, self.Te) * 0.5 + self.Te * 0.5 + 1.0 - self.fin) / 6
        out = (v["body_air"] + v["body_wind"] * speed) * (self.body - bay)
        self.body += dt * (self.body_heat - out) / v["body"]
        self.cabin_air(dt, N, sun, vent)
        self.switches()
        self.air_in = T_air
        self.T_d, self.T_l, self.vent, self.shell, self.bay = T_d, T_liquid, vent, self.body - 0.12 * (self.body - bay), bay
        self.T_l += (bay - T_liquid) * (1 - math.exp(-v["line"] / (max(m_v, 0.005) * 1500)))

    def cabin_air(self, dt, N, sun, vent):
        v, w = self.v, self.where
        if w["doors"]:
            self.cabin += dt * (0.95 * w["ambient"] + 0.05 * vent - self.cabin) / 60
        else:
            gain = v["cabin_ua"] * (w["ambient"] - self.cabin) + 1.2 * sun + v["soak"] / 20 * (self.interior - self.cabin)
            cold = v["evap_air"] * CP_AIR * (vent - self.cabin) if N > 0 else 0
            self.cabin += dt * (gain + cold) / v["cabin_mass"] * 2.5
            self.interior += dt * (self.cabin - self.interior) / 500

    def switches(self):
        P_s, P_d = self.P_s, self.P_c
        self.low_open = P_s < 2.0 or (self.low_open and P_s < 3.2)
        self.high_open = P_d > 29 or (self.high_open and P_d > 21)
        self.frost_open = self.fin < 1 or (self.frost_open and self.fin < 4.5)
        self.clutch = not (self.low_open or self.high_open or self.frost_open)


def lagged(old, new, lag):
    return new if old is None else old + (new - old) / lag


def at(rows, t, column):
    for a, b in zip(rows, rows[1:]):
        if t <= b[0]:
            return a[column] + (b[column] - a[column]) * (t - a[0]) / max(b[0] - a[0], 1e-9) if b[0] > a[0] else b[column]
    return rows[-1][column]


def simulate(v, fault, drive, where, lag, pull):
    """One row a second. drive: rows of time, rpm, km/h; lag, pull of the pipe clamps: dict by channel (s, part)."""
    machine = Machine(v, fault, dict(where))
    rows, held = [], {}
    ambient = where["ambient"]
    for t in range(int(drive[-1][0]) + 1):
        N, speed = at(drive, t, 1) / 60, at(drive, t, 2) / 3.6
        machine.where["ambient"] = ambient + 0.5 * math.sin(t / 400)
        for _ in range(round(1 / STEP)):
            machine.step(STEP, N, speed, where["sun"])
        clamps = {"suction_temperature": machine.T_suction, "discharge_temperature": machine.T_d, "liquid_line_temperature": machine.T_l}
        for name, T in clamps.items():
            bay = machine.bay
            held[name] = lagged(held.get(name), T + pull[name] * (bay - T), lag[name])
        held["vent"] = lagged(held.get("vent"), machine.vent, 4)
        rows.append({"time": float(t), "suction_pressure": machine.P_s * 1e5, "discharge_pressure": machine.P_c * 1e5,
                     "suction_temperature": held["suction_temperature"] + ZERO,
                     "discharge_temperature": held["discharge_temperature"] + ZERO,
                     "liquid_line_temperature": held["liquid_line_temperature"] + ZERO, "shell_temperature": machine.shell + ZERO,
                     "vent_temperature": held["vent"] + ZERO, "ambient_temperature": machine.where["ambient"] + ZERO,
                     "cabin_temperature": machine.cabin + ZERO, "condenser_air_in_temperature": machine.air_in + ZERO, "compressor_speed": N, "vehicle_speed": speed,
                     "clutch": 1.0 if machine.clutch else 0.0})
    return rows


def check():
    """A healthy vehicle at 1500 rpm, doors open: condensing 18 to 39 K above ambient, evaporating -4 to 14 degC (gauge tables of
    two repair manuals, ranges over both); less charge means hotter suction gas, less condenser air a higher head (common
    practice, no source)."""
    clamps = ("suction_temperature", "discharge_temperature", "liquid_line_temperature")
    lag, pull, drive = dict.fromkeys(clamps, 15), dict.fromkeys(clamps, 0.0), [(0, 1500, 0), (900, 1500, 0)]

    def last(ambient, fault):
        where = {"ambient": ambient, "doors": True, "cabin": ambient, "dew": 14, "bay_rise": 20, "sun": 50}
        return simulate(vehicle(), fault, drive, where, lag, pull)[-1]

    for ambient in (30, 35, 40):
        row = last(ambient, {})
        T_c, T_e = temperature(row["discharge_pressure"] / 1e5), temperature(row["suction_pressure"] / 1e5)
        print(f"{ambient} degC: condensing {T_c:.1f} degC, evaporating {T_e:.1f} degC, vent {row['vent_temperature'] - ZERO:.1f} degC")
        assert ambient + 18 < T_c < ambient + 39 and -4 < T_e < 14
        assert last(ambient, {"undercharge": 0.6})["suction_temperature"] > row["suction_temperature"] + 5
        assert last(ambient, {"condenser_blocked": 0.5})["discharge_pressure"] > 1.15 * row["discharge_pressure"]


if __name__ == "__main__":
    check()
