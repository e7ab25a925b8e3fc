namespace GrooveLab.Audio.SoundFiles;

/// <summary>
/// Writes a sound file as a stream, in bounded memory. The file appears complete at the end; dispose without <see cref="Commit"/> removes what
/// was written. A pipe or device is written to directly. For one thread.
/// </summary>
public interface ISoundWriter : IDisposable
{
    /// <summary>Appends whole frames, interleaved, full scale at 1.</summary>
    /// <exception cref="GrooveLab.Files.FileRefusedException">The disk is full, or the pipe's reader has ended.</exception>
    void Write(ReadOnlySpan<float> interleaved);

    /// <summary>Completes the file and gives it its name.</summary>
    /// <exception cref="GrooveLab.Files.FileRefusedException">A file of that name appeared and may not be replaced, or the disk is full.</exception>
    void Commit();
}
