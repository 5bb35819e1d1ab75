"""In: nothing. Out: what is known of every number by its name: meaning, unit, formula, when it is valid, reference.

Q is the flow at the bed, M the mass of a pour, W the water, B the beverage, D the dose, T the strength as a part of 1.
"""

from __future__ import annotations

OWN = "definition of this library"
PROXY = "an ordinal proxy: it puts pours in an order and no more"
SHARED_SCALE = "compared through one spout from one height; " + PROXY
STREAM = "the stream fills the spout's mouth and falls steeply; " + PROXY
ALWAYS = "always"
DRAWN = "mean over the flows that may have been, given the readings: "

Row = tuple[str, str, str, str, str]

# Name: meaning, unit, formula, valid when, reference.
COLUMNS: dict[str, Row] = {
    "brew": ("name of the brew", "", "", ALWAYS, "metadata"),
    "pour": ("place of the pour, from 1", "", "", ALWAYS, OWN),
    "start_s": ("first instant at which the flow at the bed passes 0.5 g/s", "s", "from the fitted flow, the scale's lag taken out", "the log holds the rest before", OWN),
    "end_s": ("last instant at which the flow at the bed passes 0.5 g/s", "s", "from the fitted flow, the scale's lag taken out", "the log holds the rest after", OWN),
    "duration_s": ("time from start to end", "s", "end_s - start_s", "both edges are in the log", OWN),
    "mass_g": ("water that arrived in the pour", "g", "level after less level before", "nothing else touches the scale meanwhile", "mass balance"),
    "mean_flow_g_per_s": ("mean flow of the pour", "g/s", "mass_g / duration_s", "both edges are in the log", OWN),
    "half_rise_s": ("first instant at half of the pour's median flow", "s", "from the fitted flow, the scale's lag taken out", "the log holds the rest before; known several times better than start_s", OWN),
    "half_fall_s": ("last instant at half of the pour's median flow", "s", "from the fitted flow, the scale's lag taken out", "the log holds the rest after; known several times better than end_s", OWN),
    "rest_before_s": ("rest before the pour", "s", "start_s less the end_s of the pour before", "a pour came before", OWN),
    "water_share_pct": ("share of the brew's water", "%", "100 mass_g / mass of all pours", "the log holds the whole brew", "JCGM 100:2008, 5.1.2"),
    "plateau_flow_g_per_s": ("flow that the hand holds", "g/s", DRAWN + "mean over time of the flow on the plateau, where it is at least 90 % of the pour's median", "the pour lasts longer than its ramps", OWN),
    "peak_flow_g_per_s": ("highest flow", "g/s", DRAWN + "largest flow", "the readings resolve the flow; a peak shorter than lag and interval is cut", OWN),
    "peak_s": ("instant of the highest flow", "s", DRAWN + "instant of the largest flow", "as peak_flow_g_per_s", OWN),
    "rise_s": ("time that the hand takes to open", "s", DRAWN + "from 10 to 90 % of the median flow", "at 10 Hz a ramp shorter than 0.2 s is hardly seen, and the sd says so", "transition duration of IEC 60469 (from memory)"),
    "fall_s": ("time that the hand takes to close", "s", DRAWN + "from 90 to 10 % of the median flow", "as rise_s", "transition duration of IEC 60469 (from memory)"),
    "near_plateau_pct": ("share of the pour's time near the plateau flow", "%", DRAWN + "time within 10 % of the plateau flow over the duration", "the pour lasts longer than its ramps", OWN),
    "steadiness_cv": ("how unevenly the hand pours; 0 is perfectly steady", "", DRAWN + "sd over mean of the flow on the plateau, over time", "the scale resolves it: below that it is undefined, and those pours are the steady ones; no norm exists", OWN),
    "steadiness_likely_cv": ("the same, also where the scale hardly resolves it", "", "as steadiness_cv", "there it leans on what is expected of hands, and its sd is large; for means over many pours", OWN),
    "steadiness_at_most_cv": ("what the steadiness is at most, with a probability of 97.5 %", "", "that quantile of the same", "as steadiness_cv", OWN),
    "drift_g_per_s2": ("how the flow grows or falls on the plateau", "g/s2", DRAWN + "slope of the least-squares line of the flow", "the plateau is long beside the hand's beats", "least squares"),
    "pulsing_hz": ("frequency of the strongest beat", "Hz", "highest peak of the generalised least-squares periodogram of the readings on their own stamps", "the beat stands out of the noise and is slower than half of the rate; a scale's lag hides quick beats", "Zechmeister and Kuerster 2009, Astron. Astrophys. 496, 577 (from memory)"),
    "pulsing_amplitude_g_per_s": ("amplitude of that beat", "g/s", "least squares at that frequency, the lag undone", "as pulsing_hz", "Zechmeister and Kuerster 2009 (from memory)"),
    "pulsing_amplitude_pct": ("the same in percent of the mean flow", "%", "100 amplitude / mean_flow_g_per_s", "as pulsing_hz", OWN),
    "pulsing_false_alarm": ("probability that noise feigns a beat as strong anywhere in the band", "", "1 - (1 - e^-z) exp(-W e^-z sqrt z)", "eight samples while water arrives", "Baluev 2008, Mon. Not. R. Astron. Soc. 385, 1279 (from memory)"),
    "smoothness": ("how plain the shape of the pour is: near -1.4 for one even swell, lower for each swell more", "", "spectral arc length: minus the length of the normalised magnitude spectrum", "pours of like duration are compared", "Balasubramanian and others 2015, J. NeuroEng. Rehab. 12, 112"),
    "pauses": ("number of stops inside the pour", "", DRAWN + "stretches with less than 0.5 g/s", "a pause is seen by some samples", OWN),
    "paused_s": ("time of these stops in all", "s", DRAWN + "their time", "as pauses", OWN),
    "flow_impulse_g2_per_s": ("how hard the pour pushes", "g2/s", "integral of Q^2 dt", SHARED_SCALE, "balance of momentum"),
    "gram_flow_g_per_s": ("mean flow, each gram counting once", "g/s", "integral of Q^2 dt / M", ALWAYS, "mean weighted by mass"),
    "peak_over_mean": ("how unevenly the pour pushes", "", "largest flow / mean flow", "the readings resolve the flow; " + PROXY, "common practice, no source"),
    "time_above_s": ("time at a flow above 5 g/s", "s", "integral of the chance that Q is above it", SHARED_SCALE, "common practice, no source"),
    "fall_height_m": ("height of the stream's fall", "m", "as stated; or (g^2 c^2 - v0^2)/(2 g) with the lead c of the reading", "the log shows the force of the stream at least ten sd clear, or the height is stated", "balance of momentum"),
    "stream_speed_m_per_s": ("speed of the stream at the bed", "m/s", "sqrt(v0^2 + 2 g H), v0 = 4 Q/(pi d0^2)", STREAM, "Torricelli's law"),
    "stream_width_mm": ("width of the stream at the bed", "mm", "d0 sqrt(v0/v)", STREAM, "balance of mass"),
    "reynolds": ("Reynolds number of the stream at the bed", "", "rho v d/mu", STREAM, "definition; water by IAPWS"),
    "weber": ("Weber number of the stream at the bed", "", "rho v^2 d/sigma", STREAM, "definition; water by IAPWS"),
    "force_n": ("force of the stream on the bed", "N", "mass flow times v", STREAM, "balance of momentum"),
    "power_w": ("power that the stream brings", "W", "mass flow times v^2/2", STREAM, "balance of energy"),
    "energy_j": ("energy that the water brings", "J", "integral of Q (g H + v0^2/2) dt", STREAM, "balance of energy"),
    "energy_j_per_g": ("the same to a gram of dose", "J/g", "energy_j / D", STREAM, OWN),
    "mixing_time_s": ("time for which the stream arrived likely unbroken", "s", "time at a flow whose break-up length is longer than the fall", "a factor of 1.5 is in its sd; " + PROXY, "Grant and Middleman 1966, AIChE J. 12, 669 (from memory)"),
    "held_at_start_g": ("water held by the bed when the pour starts", "g", "water poured less beverage collected, by then", "both scales stamp by one clock", "mass balance"),
    "drained_share": ("share of the water poured before that had been collected by then", "", "beverage / water, when the pour starts", "a pour came before", "mass balance"),
    "drawdown_s": ("from the end of the pour until the beverage stays under 0.1 g/s", "s", "from the fitted drainage, or the smoothed flow", "the flow ends before the next pour and before the log", OWN),
    "conductance_g_per_s": ("flow through the bed with 50 g standing in it", "g/s", "Q0 (50 g/V0)^p by the fitted drain law", "the bed keeps as much after this pour as in the end", OWN),
    "conductance_ratio": ("that over the pour before, at one viscosity", "", "c nu(t)/(c' nu(t'))", "grounds swell: less flow is no proof of clogging", "Darcy's law; viscosity of IAPWS SR6-08(2011)"),
    "permeability_m2": ("Darcy's permeability of the bed", "m2", "Q nu L/(A g h)", "the size of a flat bed is given, and it is full of water", "Darcy's law; IAPWS SR6-08(2011)"),
    "arrival": ("whether the stream likely arrives unbroken: a band, no verdict", "", "break-up length against the fall, a factor of 1.5 to either side", STREAM, "Grant and Middleman 1966 (from memory)"),
    "speed_source": ("where the stream's speed comes from", "", "", ALWAYS, OWN),
    "swirls": ("swirls of the vessel from this pour until the next; a stir looks the same", "", "counted events", PROXY, OWN),
    "lifts": ("how often the vessel was lifted off until the next pour", "", "counted events", PROXY, OWN),
    "knocks": ("knocks until the next pour", "", "counted events", PROXY, OWN),
    "sprays": ("dashes of water too small for a pour until the next one", "", "counted bursts of water", PROXY, OWN),
    "water_g": ("water poured in the brew", "g", "level at the end less level at the start of the brew", "nothing else touches the scale", "mass balance"),
    "beverage_g": ("beverage collected in the brew", "g", "level at the end, late drips included", "it was weighed", "mass balance"),
    "retention_g_per_g": ("water that stayed, with what is dissolved counted as beverage", "g/g", "(W - B)/D", "the bed has drained by the end of the log", "mass balance"),
    "first_drip_s": ("first instant of a beverage flow of 0.1 g/s that lasts", "s", "profile likelihood of the onset", "the log holds a stretch without beverage before it", OWN),
    "drawdown_end_s": ("when the beverage stays under 0.1 g/s after the last pour", "s", "from the fitted drainage, or the smoothed flow", "the flow ends before the log", OWN),
    "retained_water_g_per_g": ("water alone that stayed", "g/g", "(W - B (1 - T))/D", "as retention_g_per_g; vapour counts as kept unless it is stated", "mass balance of water"),
    "yield_pct": ("extraction yield: the part of the dry coffee in the beverage", "%", "100 T B/D (percolation), or 100 T/(1 - T) W/D (immersion)", "strength and dose were measured; convention and budget stand in brew.extraction", "Batali, Ristenpart, Guinard 2020, Sci. Rep. 10, doi 10.1038/s41598-020-73341-4"),
    "dose_g": ("dry coffee", "g", "", "as stated", "metadata"),
    "tds_pct": ("measured strength of the beverage", "%", "", "as stated", "metadata"),
    "water_c": ("temperature of the water poured", "C", "", "as stated", "metadata"),
    "brew_ratio": ("water over dose", "", "W/D", "a dose was given", "mass balance"),
    "strength_pct": ("strength of the beverage, by mass", "%", "as measured, or Brix times the stated factor", "it was measured", "metadata"),
    "pours": ("number of pours of the brew", "", "", ALWAYS, OWN),
    "cup_g": ("beverage with its bypass water", "g", "B + bypass", "as beverage_g", "mass balance"),
    "cup_strength_pct": ("strength of the cup with its bypass water", "%", "T B/(B + bypass)", "as strength_pct", "mass balance"),
    "spent_water_g_per_g": ("water to a gram of what is left dry in the bed", "g/g", "retained water / (1 - E)", "as retained_water_g_per_g", "mass balance"),
    "spent_moisture_pct": ("moisture of the spent bed, wet basis", "%", "100 water / (water + what is left dry)", "as retained_water_g_per_g", "mass balance"),
    "loss_g": ("what the readings lost while nothing was taken away", "g", "fall of the readings at rest", "both weights were logged", "mass balance"),
    "most_vapour_g": ("the most that evaporation can take: more is a spill or a moved vessel", "g", "heat capacity over heat of vaporisation times cooling", "the water's temperature is given", "IAPWS SR6-08(2011)"),
    "coffee": ("coffee", "", "", "as stated", "metadata"),
    "roast": ("roast", "", "", "as stated", "metadata"),
    "grinder": ("grinder", "", "", "as stated", "metadata"),
    "grinder_setting": ("setting of the grinder, as written on it", "", "", "as stated", "metadata"),
    "kettle": ("kettle", "", "", "as stated", "metadata"),
    "brewer": ("brewer", "", "", "as stated", "metadata"),
    "person": ("who poured", "", "", "as stated", "metadata"),
}  # fmt: skip
