"""The cast's voices: mixtures of Kokoro style vectors, pace, and a change of size (pitch and formants together)."""

KUMO, ALPHA, GONG, NEZU, TEBU = "jm_kumo", "jf_alpha", "jf_gongitsune", "jf_nezumi", "jf_tebukuro"

# person: (weights of the style vectors or "heart" for hibari's own voice, pace, size: > 1 is a smaller, higher voice)
CAST: dict[str, tuple[dict[str, float] | str, float, float]] = {
    "I-01": ({GONG: 1.0}, 1.0, 0.96),
    "I-02": ({KUMO: 0.8, NEZU: 0.2}, 1.03, 1.06),
    "N-01": ({KUMO: 0.4, GONG: 0.6}, 0.97, 0.98),
    "N-02": ({KUMO: 1.0}, 0.97, 1.12),
    "N-03": ("heart", 0.95, 0.92),
    "N-04": ({KUMO: 1.3, GONG: -0.3}, 0.95, 1.0),
    "N-05": ({NEZU: 1.3, ALPHA: -0.3}, 0.98, 1.0),
    "N-06": ({KUMO: 1.0}, 1.03, 0.92),
    "N-07": ({KUMO: 0.5, TEBU: 0.5}, 0.97, 0.93),
    "N-08": ({KUMO: 0.65, NEZU: 0.35}, 1.02, 0.87),
    "N-09": ({ALPHA: 1.0}, 0.94, 0.97),
    "N-10": ({KUMO: 0.7, TEBU: 0.3}, 1.01, 1.0),
    "N-11": ({TEBU: 1.0}, 1.03, 1.0),
}
