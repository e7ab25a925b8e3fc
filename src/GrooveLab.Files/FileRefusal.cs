namespace GrooveLab.Files;

/// <summary>Why a file was not written, for the program and its user.</summary>
/// <param name="Problem">The kind.</param>
/// <param name="Path">The file as the caller named it; never a temporary one.</param>
/// <param name="Message">A sentence with the file, the problem and the remedy.</param>
public sealed record FileRefusal(FileProblem Problem, string Path, string Message);

/// <summary>A refusal as an exception.</summary>
/// <param name="refusal">The refusal; its sentence is the exception's message.</param>
/// <param name="cause">The system's exception; null if there is none.</param>
public sealed class FileRefusedException(FileRefusal refusal, Exception? cause = null) : IOException(refusal.Message, cause)
{
    /// <summary>The refusal.</summary>
    public FileRefusal Refusal { get; } = refusal;
}
