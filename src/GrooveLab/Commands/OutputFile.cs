using GrooveLab.Files;
using GrooveLab.Inputs;

namespace GrooveLab.Commands;

/// <summary>The file that a command writes, under the name that the user gave.</summary>
internal static class OutputFile
{
    /// <summary>The options for writing it.</summary>
    public static WriteOptions Options(bool force) => force ? WriteOptions.Replacing : WriteOptions.New;

    /// <summary>Ends the command if the file cannot be written. Call it before any long work.</summary>
    public static void Refuse(string path, bool force)
    {
        if (DurableFile.Check(path, Options(force)) is { } refusal)
        {
            throw Failure(refusal);
        }
    }

    /// <summary>Ends the command unless the file name has one of the given endings. Pipes and devices need none.</summary>
    public static void NeedEnding(string path, params string[] endings)
    {
        if (!endings.Any(ending => path.EndsWith(ending, StringComparison.OrdinalIgnoreCase)) && !DurableFile.IsStream(path))
        {
            throw CommandFailure.BadInput($"-o {path}: the file name must end in {string.Join(" or ", endings)}");
        }
    }

    /// <summary>Ends the command if the file was not written.</summary>
    public static void NeedWritten(WriteResult result)
    {
        if (result.Refusal is { } refusal)
        {
            throw Failure(refusal);
        }
    }

    /// <summary>The writer for lines about the file: not the pipe that receives the file itself.</summary>
    public static TextWriter Remarks(string path) => DurableFile.IsStream(path) ? Console.Error : Console.Out;

    private static CommandFailure Failure(FileRefusal refusal) => refusal.Problem switch
    {
        FileProblem.AlreadyExists => CommandFailure.BadInput($"{refusal.Path} already exists; choose another name, or add --force to replace it"),
        FileProblem.IsFolder or FileProblem.NotAFile or FileProblem.FolderMissing or FileProblem.NameTooLong or FileProblem.InvalidName
            or FileProblem.TooManyLinks => CommandFailure.BadInput(refusal.Message),
        _ => new CommandFailure(ExitCodes.Failed, refusal.Message),
    };
}
