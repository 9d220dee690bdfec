//! The machine in a pose as binary glTF 2.0, for any viewer.

use serde_json::{Value, json};

use holdline::machine::Machine;
use holdline::machine::front::ToolChoice;
use holdline::machine::joints::Joints;
use holdline_geom::fault::Fault;

use super::mesh::mesh;
use super::{InTracks, ModelLink, model_links};
use crate::sources;

/// Writes the machine with this tool in this pose as binary glTF.
///
/// A node a link, named as on the sheet and all beneath the root, each with the matrix that takes its frame to
/// `Tracks`; a viewer that sets these matrices shows another pose. The tooth points hang on the bucket.
/// The root turns z up into glTF's y up. Coordinates are local to the machine, so single precision is enough.
///
/// - Units: m. Source: [`sources::GLTF`].
///
/// # Errors
///
/// `T001` for an unknown tool; `T010`, `T011` when the linkage cannot close there.
///
/// # Caution
///
/// A picture of solids that are wider than the steel. It shows no clearance and proves none.
pub fn write_glb(machine: &Machine, choice: &ToolChoice, q: &Joints) -> Result<Vec<u8>, Fault> {
    let _ = sources::GLTF;
    let links = model_links(machine, choice, q)?;
    let mut out = Document::default();
    let mut under_root = Vec::new();
    for link in &links {
        under_root.push(out.link(machine, choice, link));
    }
    let root = out.nodes.len();
    out.nodes.push(json!({
        "name": machine.sheet().id,
        "children": under_root,
        "matrix": Y_UP,
    }));
    Ok(out.finish(root, machine))
}

/// x forward, y left, z up to glTF's z forward, x left, y up; column by column.
const Y_UP: [f64; 16] = [
    0.0, 0.0, 1.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0,
];

#[derive(Debug, Default)]
struct Document {
    nodes: Vec<Value>,
    meshes: Vec<Value>,
    accessors: Vec<Value>,
    views: Vec<Value>,
    bytes: Vec<u8>,
}

impl Document {
    /// Adds a link and what it is made of; gives the link's node.
    fn link(&mut self, machine: &Machine, choice: &ToolChoice, link: &ModelLink) -> usize {
        let mut children = Vec::new();
        for part in &link.parts {
            let mesh = mesh(&part.solid);
            if mesh.corners_m.is_empty() {
                continue;
            }
            let position = self.accessor(&mesh.corners_m, Bounds::Stated);
            let normal = self.accessor(&mesh.normals, Bounds::LeftOut);
            self.meshes.push(json!({
                "name": part.name,
                "primitives": [{
                    "attributes": { "POSITION": position, "NORMAL": normal },
                    "material": 0,
                }],
            }));
            children.push(self.nodes.len());
            let name = format!("solid {}", part.name);
            self.nodes
                .push(json!({ "name": name, "mesh": self.meshes.len() - 1 }));
        }
        if link.name == "bucket" {
            let bucket = machine
                .sheet()
                .buckets
                .iter()
                .find(|b| b.id == choice.bucket);
            for tooth in bucket.iter().flat_map(|b| &b.teeth) {
                children.push(self.nodes.len());
                self.nodes.push(json!({
                    "name": format!("tooth {}", tooth.name),
                    "translation": [tooth.at.x.value, tooth.at.y.value, tooth.at.z.value],
                }));
            }
        }
        let mut node = json!({ "name": link.name, "matrix": matrix(&link.tracks_from_link) });
        if !children.is_empty() {
            node["children"] = json!(children);
        }
        self.nodes.push(node);
        self.nodes.len() - 1
    }

    fn accessor(&mut self, points: &[[f32; 3]], bounds: Bounds) -> usize {
        let offset = self.bytes.len();
        self.bytes
            .extend(points.iter().flatten().flat_map(|v| v.to_le_bytes()));
        self.views.push(json!({
            "buffer": 0,
            "byteOffset": offset,
            "byteLength": self.bytes.len() - offset,
            "target": 34962, // vertex data
        }));
        let mut accessor = json!({
            "bufferView": self.views.len() - 1,
            "componentType": 5126, // single precision
            "count": points.len(),
            "type": "VEC3",
        });
        if bounds == Bounds::Stated {
            let axis = |k: usize, pick: fn(f32, f32) -> f32, from: f32| {
                points.iter().map(|p| p[k]).fold(from, pick)
            };
            let least = [0, 1, 2].map(|k| axis(k, f32::min, f32::INFINITY));
            let most = [0, 1, 2].map(|k| axis(k, f32::max, f32::NEG_INFINITY));
            accessor["min"] = json!(least);
            accessor["max"] = json!(most);
        }
        self.accessors.push(accessor);
        self.accessors.len() - 1
    }

    fn finish(self, root: usize, machine: &Machine) -> Vec<u8> {
        let json = json!({
            "asset": {
                "version": "2.0",
                "generator": "holdline",
                "extras": {
                    "frame": "tracks: origin on the swing axis at track ground level, x forward, y left, z up; metres",
                    "caution": "solids are wider than the steel; shows no clearance and proves none",
                },
            },
            "scene": 0,
            "scenes": [{ "name": machine.sheet().id, "nodes": [root] }],
            "nodes": self.nodes,
            "meshes": self.meshes,
            "materials": [{
                "name": "steel",
                "pbrMetallicRoughness": {
                    "baseColorFactor": [0.80, 0.79, 0.75, 1.0],
                    "metallicFactor": 0.0,
                    "roughnessFactor": 0.9,
                },
            }],
            "accessors": self.accessors,
            "bufferViews": self.views,
            "buffers": [{ "byteLength": self.bytes.len() }],
        });
        let text = padded(json.to_string().into_bytes(), b' ');
        let bytes = padded(self.bytes, 0);
        let total = 12 + 8 + text.len() + 8 + bytes.len();
        let mut out = Vec::with_capacity(total);
        out.extend(b"glTF");
        out.extend(2_u32.to_le_bytes());
        out.extend(length_word(total));
        for (kind, chunk) in [(b"JSON", text), (b"BIN\0", bytes)] {
            out.extend(length_word(chunk.len()));
            out.extend(kind);
            out.extend(chunk);
        }
        out
    }
}

/// Whether an accessor states its least and largest values; positions must.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Bounds {
    Stated,
    LeftOut,
}

/// Chunks end at multiples of four bytes.
fn padded(mut bytes: Vec<u8>, with: u8) -> Vec<u8> {
    bytes.resize(bytes.len().next_multiple_of(4), with);
    bytes
}

fn length_word(n: usize) -> [u8; 4] {
    // A sheet is bounded in its parts, so a model stays far below four thousand million bytes.
    u32::try_from(n).unwrap_or(u32::MAX).to_le_bytes()
}

/// Sixteen numbers, column by column.
fn matrix(placed: &InTracks) -> [f64; 16] {
    let turn = placed.rotation();
    let at = placed.origin();
    let mut out = [0.0; 16];
    for column in 0..3 {
        for row in 0..3 {
            out[4 * column + row] = turn[(row, column)];
        }
    }
    [out[12], out[13], out[14], out[15]] = [at.x(), at.y(), at.z(), 1.0];
    out
}

#[cfg(test)]
mod tests {
    use super::super::tests::{demo, every_field, pose_of, tool};
    use super::*;
    use holdline::machine::pose::front_pose;

    /// Takes the two chunks apart, holding the container's rules.
    fn chunks(glb: &[u8]) -> (Value, Vec<u8>) {
        let word = |at: usize| u32::from_le_bytes(glb[at..at + 4].try_into().unwrap()) as usize;
        assert_eq!(&glb[..4], b"glTF");
        assert_eq!((word(4), word(8)), (2, glb.len()));
        let n = word(12);
        assert_eq!(&glb[16..20], b"JSON");
        assert_eq!(n % 4, 0);
        let json = serde_json::from_slice(&glb[20..20 + n]).unwrap();
        let bin = 20 + n;
        assert_eq!(&glb[bin + 4..bin + 8], b"BIN\0");
        assert_eq!(bin + 8 + word(bin), glb.len());
        (json, glb[bin + 8..].to_vec())
    }

    /// Rules of glTF 2.0 that a reader relies on: every index exists, every view lies in the buffer, bounds are true.
    fn check(glb: &[u8]) -> Value {
        let (json, bytes) = chunks(glb);
        let n = |key: &str| json[key].as_array().unwrap().len() as u64;
        let length = json["buffers"][0]["byteLength"].as_u64().unwrap();
        assert!(length <= bytes.len() as u64 && bytes.len() as u64 - length < 4);
        let mut parents = vec![0; n("nodes") as usize];
        for node in json["nodes"].as_array().unwrap() {
            for child in node["children"].as_array().into_iter().flatten() {
                parents[child.as_u64().unwrap() as usize] += 1;
            }
            assert!(node["mesh"].as_u64().is_none_or(|m| m < n("meshes")));
        }
        let root = json["scenes"][0]["nodes"][0].as_u64().unwrap() as usize;
        for (idx, n_parents) in parents.iter().enumerate() {
            assert_eq!(
                *n_parents,
                u64::from(idx != root),
                "node {idx} hangs on one node, or is the root"
            );
        }
        for accessor in json["accessors"].as_array().unwrap() {
            let view = &json["bufferViews"][accessor["bufferView"].as_u64().unwrap() as usize];
            let (from, len) = (
                view["byteOffset"].as_u64().unwrap(),
                view["byteLength"].as_u64().unwrap(),
            );
            assert!(from % 4 == 0 && from + len <= length);
            assert_eq!(accessor["count"].as_u64().unwrap() * 12, len);
            let piece = &bytes[from as usize..(from + len) as usize];
            let (words, _) = piece.as_chunks::<4>();
            let values: Vec<f32> = words.iter().map(|w| f32::from_le_bytes(*w)).collect();
            assert!(values.iter().all(|v| v.is_finite()));
            if let Some(least) = accessor["min"].as_array() {
                for (k, least) in least.iter().enumerate() {
                    let found = values
                        .iter()
                        .skip(k)
                        .step_by(3)
                        .copied()
                        .fold(f32::INFINITY, f32::min);
                    assert_eq!(found, least.as_f64().unwrap() as f32);
                }
            }
        }
        for mesh in json["meshes"].as_array().unwrap() {
            for accessor in mesh["primitives"][0]["attributes"]
                .as_object()
                .unwrap()
                .values()
            {
                assert!(accessor.as_u64().unwrap() < n("accessors"));
            }
        }
        json
    }

    #[test]
    fn the_demo_follows_the_rules_and_its_tooth_is_where_the_chain_puts_it() {
        let machine = demo();
        let choice = tool("T75", Some("QC-demo"), None);
        let q = pose_of(0.3, -1.4, -0.2);
        let json = check(&write_glb(&machine, &choice, &q).unwrap());
        let node = |name: &str| {
            let nodes = json["nodes"].as_array().unwrap();
            nodes
                .iter()
                .find(|n| n["name"] == name)
                .unwrap_or_else(|| panic!("no node {name}"))
        };
        for name in [
            "tracks",
            "house",
            "boom",
            "stick",
            "ear",
            "bucket",
            "idler",
            "boom cylinders 2, rod",
        ] {
            node(name);
        }
        let numbers = |v: &Value| -> Vec<f64> {
            v.as_array()
                .unwrap()
                .iter()
                .map(|x| x.as_f64().unwrap())
                .collect()
        };
        let m = numbers(&node("bucket")["matrix"]);
        let t = numbers(&node("tooth left")["translation"]);
        let in_tracks: Vec<f64> = (0..3)
            .map(|r| m[r] * t[0] + m[4 + r] * t[1] + m[8 + r] * t[2] + m[12 + r])
            .collect();
        let left = ToolChoice {
            tooth: "left".to_owned(),
            ..choice
        };
        let pose = front_pose(&machine.front(&left).unwrap().values(), &q);
        let want = pose.tracks_from_house * pose.tooth_house;
        for (got, want) in in_tracks.iter().zip([want.x(), want.y(), want.z()]) {
            assert!((got - want).abs() < 1e-12, "{got} {want}");
        }
    }

    #[test]
    fn the_root_turns_up_into_up() {
        // forward (1, 0, 0) becomes z, left (0, 1, 0) becomes x, up (0, 0, 1) becomes y
        let column = |k: usize| &Y_UP[4 * k..4 * k + 3];
        assert_eq!(column(0), [0.0, 0.0, 1.0]);
        assert_eq!(column(1), [1.0, 0.0, 0.0]);
        assert_eq!(column(2), [0.0, 1.0, 0.0]);
    }

    #[test]
    fn a_machine_with_every_joint_follows_the_rules() {
        let machine = every_field();
        let choice = tool("B40", Some("hitch"), Some("rotator"));
        let json = check(&write_glb(&machine, &choice, &pose_of(0.3, -1.4, 0.4)).unwrap());
        let text = json["nodes"].to_string();
        for name in ["\"post\"", "\"boom-upper\"", "\"tilt\""] {
            assert!(text.contains(name));
        }
    }
}
