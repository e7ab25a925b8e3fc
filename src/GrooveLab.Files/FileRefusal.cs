namespace GrooveLab.Files;

/// <summary>Why a file was not written, for a program and for its user.</summary>
/// <param name="Problem">The kind.</param>
/// <param name="Path">The file as the caller named it; never a temporary one.</param>
/// <param name="Message">A sentence that names the file, says what is wrong and what helps.</param>
public sealed record FileRefusal(FileProblem Problem, string Path, string Message);

/// <summary>A refusal on its way through code that reports by exceptions.</summary>
/// <param name="refusal">What is wrong; its sentence is the exception's message.</param>
/// <param name="cause">What the system reported; null where it was not asked.</param>
public sealed class FileRefusedException(FileRefusal refusal, Exception? cause = null) : IOException(refusal.Message, cause)
{
    /// <summary>What is wrong.</summary>
    public FileRefusal Refusal { get; } = refusal;
}
