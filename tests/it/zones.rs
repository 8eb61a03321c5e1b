//! A made-up job: the shipped one of the underfloor wiring centre with as many zones as are wanted, one actuator in each.

const SHIPPED: &str = include_str!("../../fixtures/loft-underfloor.ron");

/// The text of a job of so many zones.
pub fn underfloor(zones: usize) -> String {
    let each = |of: &dyn Fn(usize) -> String| (1..=zones).map(of).collect::<String>();
    let (before, rest) = SHIPPED.split_once("    cable: (").expect("a job has a cable");
    let (_, after) = rest.split_once("    instruments: [").expect("a job has instruments");
    let cores = each(&|z| {
        format!("(name: \"{z}\", size: \"0.75 mm2\", carries: SwitchedLive, near: \"Z{z}\", far: \"Z{z}\"),\n")
    });
    let terminals = each(&|z| format!("(name: \"Z{z}\", takes: SwitchedLive),\n"));
    let equipment = each(&|z| {
        format!(
            "(name: \"thermostat {z}\", is: Contact(between: (Near(\"L\"), Near(\"Z{z}\")), moved_by: Control(\"thermostat {z}\"))),
             (name: \"actuator {z}\", is: Motor(between: (Far(\"Z{z}\"), Far(\"N\")), power: \"2 W\", opens: \"180 s\", closes: \"240 s\", wax: true)),
             (name: \"pump relay {z}\", is: Motor(between: (Near(\"Z{z}\"), Near(\"N\")), power: \"1 W\", opens: \"0.1 s\", closes: \"0.1 s\")),
             (name: \"pump contact {z}\", is: Contact(between: (Near(\"L\"), Near(\"P\")), moved_by: Motor(\"pump relay {z}\"))),\n"
        )
    });
    let list = each(&|z| {
        format!(
            "(name: \"zone {z}\", control: \"thermostat {z}\", actuators: [\"actuator {z}\"], meters: [(\"flow {z}\", \"actuator {z}\")]),\n"
        )
    });
    format!(
        "{before}    cable: (
        name: \"manifold cable\", kind: \"round, many cores, one of them earth\", conductors: Flexible, length: \"9 m\", temperature: \"18 degC\",
        cores: [
            {cores}
            (name: \"blue\", size: \"0.75 mm2\", carries: Neutral, near: \"N\", far: \"N\"),
            (name: \"green-yellow\", size: \"0.75 mm2\", carries: Earth, near: \"E\", far: \"E\"),
        ],
    ),
    near: (name: \"underfloor wiring centre\", terminals: [
        (name: \"L\", takes: PermanentLive), (name: \"N\", takes: Neutral), {terminals}
        (name: \"P\", takes: EndSwitch), (name: \"E\", takes: Earth),
    ]),
    far: (name: \"manifold terminal strip\", terminals: [{terminals} (name: \"N\", takes: Neutral), (name: \"E\", takes: Earth)]),
    equipment: [
        {equipment}
        (name: \"underfloor pump\", is: Load(between: (Near(\"P\"), Near(\"N\")), ohms: \"1.2 kohm\")),
    ],
    zones: [{list}],
    instruments: [{after}"
    )
}
