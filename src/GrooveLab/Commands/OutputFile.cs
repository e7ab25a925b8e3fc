using GrooveLab.Files;
using GrooveLab.Inputs;

namespace GrooveLab.Commands;

/// <summary>The file that a command writes, as its user names it.</summary>
internal static class OutputFile
{
    /// <summary>How it is written.</summary>
    public static WriteOptions Options(bool force) => force ? WriteOptions.Replacing : WriteOptions.New;

    /// <summary>Ends the command if the file could not be written; to be said before anything long is done.</summary>
    public static void Refuse(string path, bool force)
    {
        if (DurableFile.Check(path, Options(force)) is { } refusal)
        {
            throw Failure(refusal);
        }
    }

    /// <summary>Ends the command unless the file has one of some endings. Pipes and devices need none.</summary>
    public static void NeedEnding(string path, params string[] endings)
    {
        if (!endings.Any(ending => path.EndsWith(ending, StringComparison.OrdinalIgnoreCase)) && !DurableFile.IsStream(path))
        {
            throw CommandFailure.BadInput($"-o {path}: the file's name must end in {string.Join(" or ", endings)}");
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

    /// <summary>Where the lines about the file go: not into the pipe that takes the file itself.</summary>
    public static TextWriter Remarks(string path) => DurableFile.IsStream(path) ? Console.Error : Console.Out;

    private static CommandFailure Failure(FileRefusal refusal) => refusal.Problem switch
    {
        FileProblem.AlreadyExists => CommandFailure.BadInput($"{refusal.Path} already exists; choose another name, or replace it with --force"),
        FileProblem.IsFolder or FileProblem.NotAFile or FileProblem.FolderMissing or FileProblem.NameTooLong or FileProblem.InvalidName
            or FileProblem.TooManyLinks => CommandFailure.BadInput(refusal.Message),
        _ => new CommandFailure(ExitCodes.Failed, refusal.Message),
    };
}
