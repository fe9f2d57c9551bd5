"""The hand-over: what goes to the firmware and into the project file, as text of one form or another."""
