//! What the pieces mean: the tree that is read aloud.

use super::piece::{Piece, Role};
use pdf_writer::types::{StructRole, TableHeaderScope};
use pdf_writer::{Chunk, Ref, TextStr};

/// The tree's elements.
pub(super) struct Tags {
    pub chunk: Chunk,
    /// The element of each marked piece, in the order of their numbers.
    pub marked: Vec<Ref>,
    page: Ref,
}

impl Tags {
    pub fn new(page: Ref) -> Self {
        Self {
            chunk: Chunk::new(),
            marked: vec![],
            page,
        }
    }

    /// Writes the element of a piece and of its parts; gives back its number.
    pub fn piece(&mut self, piece: &Piece, parent: Ref, next: &mut Ref) -> Ref {
        let id = next.bump();
        // An item's words stand in a body of their own.
        let body = (piece.role == Role::Item).then(|| next.bump());
        let own = body.unwrap_or(id);
        let mark = (!piece.marks.is_empty()).then(|| {
            self.marked.push(own);
            self.marked.len() as i32 - 1
        });
        let parts = piece.parts.iter();
        let parts: Vec<Ref> = parts.map(|p| self.piece(p, own, next)).collect();
        if let Some(body) = body {
            let mut item = self.chunk.struct_element(id);
            item.kind(StructRole::LI).parent(parent).child(body);
        }
        let mut element = self.chunk.struct_element(own);
        element
            .kind(kind(&piece.role))
            .parent(if body.is_some() { id } else { parent })
            .page(self.page);
        if let Role::Figure(alt) = &piece.role {
            element.alt(TextStr(alt));
        }
        let scope = match piece.role {
            Role::ColumnHead => Some(TableHeaderScope::Column),
            Role::RowHead => Some(TableHeaderScope::Row),
            _ => None,
        };
        if let Some(scope) = scope {
            element.attributes().push().table().scope(scope);
        }
        let mut children = element.children();
        if let Some(mark) = mark {
            children.marked_content_id(mark);
        }
        for part in parts {
            children.struct_element(part);
        }
        id
    }
}

fn kind(role: &Role) -> StructRole {
    match role {
        Role::Paragraph => StructRole::P,
        Role::Heading(1) => StructRole::H1,
        Role::Heading(_) => StructRole::H2,
        Role::List => StructRole::L,
        Role::Item => StructRole::LBody,
        Role::Table => StructRole::Table,
        Role::Caption => StructRole::Caption,
        Role::Row => StructRole::TR,
        Role::ColumnHead | Role::RowHead => StructRole::TH,
        Role::Cell => StructRole::TD,
        Role::Figure(_) => StructRole::Figure,
    }
}
