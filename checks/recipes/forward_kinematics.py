"""Teeth of many poses by a general robotics library, from holdline's own URDF files.

Made with: Python 3.11.7, pin 4.1.0 (the Pinocchio library, forward kinematics), numpy 2.4.6.

    HOLDLINE_WRITE_URDF=1 cargo test -p holdline-checks --test forward_kinematics
    python3 -m venv ../fk-venv
    ../fk-venv/bin/pip install pin==4.1.0 numpy==2.4.6
    ../fk-venv/bin/python checks/recipes/forward_kinematics.py checks/data/forward_kinematics

The first command writes the URDF files; the last writes one CSV beside each.
Angles in radians, places in metres. Inputs are rounded before use, so the file holds them exactly.

Nothing of holdline's own arithmetic is in here: the chain is the library's, read from the URDF; the
base is the library's free joint; its turn is the library's roll-pitch-yaw matrix.
"""

import pathlib
import sys
import xml.etree.ElementTree as xml

import numpy
import pinocchio

N_POSES = 220
ANTENNA_HOUSE_M = [-1.850, 1.050, 3.020]


def joints_of(urdf):
    """Joints that a person sets, with their limits, and those that copy one of them."""
    free, copies = [], {}
    for joint in xml.parse(urdf).getroot().iter("joint"):
        if joint.get("type") == "fixed":
            continue
        mimic, limit = joint.find("mimic"), joint.find("limit")
        if mimic is not None:
            copies[joint.get("name")] = (mimic.get("joint"), float(mimic.get("multiplier")))
        elif limit is None:
            free.append((joint.get("name"), -3.1, 3.1))
        else:
            free.append((joint.get("name"), float(limit.get("lower")), float(limit.get("upper"))))
    return free, copies


def configuration(model, angles, copies, base):
    """The library's configuration vector: base first, an endless joint as cosine and sine."""
    angles = dict(angles)
    for name, (of, factor) in copies.items():
        angles[name] = factor * angles[of]
    q = pinocchio.neutral(model)
    for name, angle in angles.items():
        joint = model.joints[model.getJointId(name)]
        if joint.nq == 2:
            q[joint.idx_q : joint.idx_q + 2] = [numpy.cos(angle), numpy.sin(angle)]
        else:
            q[joint.idx_q] = angle
    if base is not None:
        q[:7] = pinocchio.SE3ToXYZQUAT(base)
    return q


def placed(model, data, q, frame):
    pinocchio.framesForwardKinematics(model, data, q)
    return data.oMf[model.getFrameId(frame)].copy()


def table(urdf, seed):
    fixed = pinocchio.buildModelFromUrdf(str(urdf))
    moving = pinocchio.buildModelFromUrdf(str(urdf), pinocchio.JointModelFreeFlyer())
    fixed_data, moving_data = fixed.createData(), moving.createData()
    free, copies = joints_of(urdf)
    random = numpy.random.default_rng(seed)
    teeth = ["tooth left", "tooth centre", "tooth right"]
    names = [name for name, _, _ in free]
    columns = names + ["heading", "pitch", "roll", "antenna_e", "antenna_n", "antenna_u", "tooth"]
    columns += ["tracks_x", "tracks_y", "tracks_z", "site_e", "site_n", "site_u"]
    rows = [",".join(columns)]
    for pose in range(N_POSES):
        angles = {n: round(random.uniform(low, high), 9) for n, low, high in free}
        heading = round(random.uniform(0.0, 6.28), 9)
        pitch, roll = (round(random.uniform(-0.35, 0.35), 9) for _ in range(2))
        stand = numpy.round(random.uniform([5000, 2000, 20], [5160, 2105, 30]), 4)
        tooth = teeth[pose % 3]

        q = configuration(fixed, angles, copies, None)
        in_tracks = placed(fixed, fixed_data, q, tooth).translation
        tracks_from_house = placed(fixed, fixed_data, q, "house")

        # Heading clockwise from north, nose up, right side down: yaw 90° less, pitch the other way.
        turn = pinocchio.rpy.rpyToMatrix(roll, -pitch, numpy.pi / 2 - heading)
        site_from_house = pinocchio.SE3(turn, stand)
        base = site_from_house * tracks_from_house.inverse()
        q = configuration(moving, angles, copies, base)
        on_site = placed(moving, moving_data, q, tooth).translation
        antenna = site_from_house.act(numpy.array(ANTENNA_HOUSE_M))

        given = [f"{angles[n]:.9f}" for n in names]
        given += [f"{a:.9f}" for a in (heading, pitch, roll)]
        got = [f"{v:.12f}" for v in [*in_tracks, *on_site]]
        rows.append(",".join([*given, *(f"{v:.12f}" for v in antenna), tooth[6:], *got]))
    return "\n".join(rows) + "\n"


def main(folder):
    for seed, urdf in enumerate(sorted(pathlib.Path(folder).glob("*.urdf")), start=1):
        made_with = (
            f"# pinocchio {pinocchio.__version__}, numpy {numpy.__version__}, seed {seed};"
            " see checks/recipes/forward_kinematics.py\n"
        )
        urdf.with_suffix(".csv").write_text(made_with + table(urdf, seed))
        print(urdf.with_suffix(".csv").name)


if __name__ == "__main__":
    main(sys.argv[1])
