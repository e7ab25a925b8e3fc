namespace GrooveLab.Audio.Synthesis;

/// <summary>How one note differs from others like it.</summary>
/// <param name="SampleKey">The key whose samples it plays, at its own pitch.</param>
/// <param name="Cents">Cents added to its pitch.</param>
/// <param name="Darkness">Cents by which its filter's cutoff is lower.</param>
internal readonly record struct NoteTouch(int SampleKey, float Cents, float Darkness);
