"""Cautions that a result carries where its subject can hurt someone. Each defers to local codes and licensed practice."""

from __future__ import annotations

from warmstead.building.findings import Findings, WarningCode

TEXTS: dict[WarningCode, str] = {
    "caution.asbestos": "Old boards, textured coatings, lagging and flue pipes may hold asbestos: have them surveyed before any "
    "work; removal is for licensed contractors.",
    "caution.background_ventilation": "A tighter house needs ventilation that is meant to be there: against damp and mould, for people, "
    "and for anything that burns. Follow the local code on ventilation.",
    "caution.cables_in_insulation": "Cables covered by insulation run hotter and may need a lower rating: have an electrician check "
    "them against the wiring rules.",
    "caution.closed_chimney": "Nothing may burn below a chimney that is closed off: a licensed person disconnects the appliance, and "
    "an unused flue stays vented at both ends so that it keeps dry.",
    "caution.electrical_supply": "A heat pump needs a circuit of its own and the network operator's consent may be needed: a "
    "registered electrician checks supply and earthing.",
    "caution.filled_cavity": "A filled cavity can carry driving rain to the inner leaf: local exposure, the state of pointing and "
    "the product's certificate decide whether filling is allowed.",
    "caution.fire_behaviour": "Insulation differs in its behaviour in fire: building regulations decide what is allowed at this "
    "place and height.",
    "caution.flue_and_extract": "Extract ventilation in a house with an open flue can draw combustion gases into the room: have "
    "spillage tested by a licensed person and fit a carbon monoxide alarm.",
    "caution.hot_surface": "At this flow temperature surfaces can burn: children, old people and anyone who cannot move away need "
    "low-surface-temperature emitters or guards.",
    "caution.internal_insulation": "Insulation on the inside of masonry keeps the wall cold and wet: damp behind it, frost damage "
    "and rotting joist ends are possible. Have moisture assessed (EN 15026, local guidance) before the work.",
    "caution.legionella": "Stored hot water under 60 °C can breed legionella: follow the local code on storage temperature and "
    "regular heating-up.",
    "caution.listed_building": "Listed buildings and conservation areas need consent before fabric, windows or an outdoor unit are "
    "changed.",
    "caution.loft_frost": "Above an insulated ceiling the roof space is colder: pipes and tanks there need insulation against frost, "
    "and ventilation at the eaves must stay open.",
    "caution.minimum_water_volume": "The unit's least water volume and least flow must stay available with every valve shut: see "
    "the maker's instructions.",
    "caution.open_flue": "A flue that takes its air from the room needs combustion air: sealing the room can make it spill. "
    "A licensed person checks the air supply; a carbon monoxide alarm is needed.",
    "caution.outdoor_pipes": "Condensate and defrost water freeze on paths, and outdoor pipes burst in a power cut without "
    "protection: drain to a soakaway and protect against frost.",
    "caution.radon": "Floors next to the ground can let radon in, and sealing or ventilating them changes how much: see the local "
    "radon map and code.",
    "caution.refrigerant": "Refrigerants can be flammable or suffocating: distances to openings, drains and ignition sources are the "
    "maker's and the code's; only certified persons open the circuit.",
    "caution.scald": "Water over 50 °C scalds: thermostatic mixing at baths and basins as the local code asks.",
    "caution.suspended_floor": "Underfloor vents must stay open and joist ends dry when a timber floor is insulated.",
    "caution.unvented_cylinder": "Unvented cylinders can explode if their safety devices fail: only qualified persons install and "
    "service them.",
}


def caution(findings: Findings, code: WarningCode, pointer: str) -> None:
    """Put a caution beside the answer."""
    findings.warn(code, pointer, TEXTS[code])
