namespace GrooveLab.Store;

/// <summary>Whether the program plays for the first time for this user; known by an empty file in the user's data folder.</summary>
internal static class FirstStart
{
    private const string Marker = "played-before";

    /// <summary>True once for each user; true again where nothing can be kept.</summary>
    public static bool IsNow()
    {
        var folder = Path.Combine(
            Environment.GetFolderPath(Environment.SpecialFolder.LocalApplicationData, Environment.SpecialFolderOption.DoNotVerify), "groovelab");
        var file = Path.Combine(folder, Marker);
        if (File.Exists(file))
        {
            return false;
        }

        try
        {
            Directory.CreateDirectory(folder);
            File.WriteAllText(file, string.Empty);
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
        {
            // Then the advice is given each time.
            Survived.Failures.Add($"writing {file}", failure);
        }

        return true;
    }
}
